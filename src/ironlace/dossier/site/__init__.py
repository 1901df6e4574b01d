"""The account as a web site: pages for strangers, what was corrected since, what feeds read."""
