"""How to cite a record: what it says, what it does not say as unsaid, as the open schemas ask."""

import json
import re
from datetime import UTC, datetime

import yaml

from ironlace.dossier.account.record_to_account import account_of
from ironlace.dossier.bag.citing import UNSAID, citation, datacite

MADE = datetime(2031, 5, 4, 12, tzinfo=UTC)


def test_what_nobody_said_stands_there_as_unsaid(make_record):
    account = account_of(make_record([]), {}, {})
    told = datacite(account, MADE, " ")
    assert told["creators"] == [{"name": UNSAID}] and told["publisher"] == {"name": UNSAID}
    assert "What it is: not said in the record" in told["descriptions"][0]["description"]
    assert told["rightsList"] == [
        {"rights": f"Rights in the whole: not said in the record {UNSAID}"}
    ]
    said = citation(account, MADE, "")
    assert '  - name: "not named by whoever packed it"' in said
    assert "references:" not in said and "identifiers:" not in said


def test_it_is_filled_from_the_record(full_account):
    told = datacite(full_account, MADE, "A. Club")
    assert told["creators"] == [{"name": "A. Club"}]
    assert told["publicationYear"] == "2031"
    assert {"date": "2031-05-04", "dateType": "Issued"} in told["dates"]
    abstract = told["descriptions"][0]["description"]
    for topic, says, grade in full_account.summary:
        assert f"{topic}: {' '.join(says.split())} ({grade.value})" in abstract
    assert any("may be copied with this account" in one["rights"] for one in told["rightsList"])
    assert "Price list of the Calder Vane Works" in citation(full_account, MADE, "")


def test_no_secret_is_cited(full_account, secret):
    told = citation(full_account, MADE, "") + json.dumps(datacite(full_account, MADE, ""))
    assert secret not in told


AWKWARD = 'A: "b" # c\n- d\u2028 \\e \u00e9 \x85 &f *g'


def test_any_words_at_all_stay_one_text_in_yaml(make_record):
    """Every value is a JSON string on a line of its own, which YAML 1.2 reads as it stands."""
    source = {"kind": "source", "title": 'x: "y" # z', "sort": "letter"}
    account = account_of(make_record([source], title=AWKWARD), {}, {})
    for line in citation(account, MADE, AWKWARD).splitlines():
        value = re.sub(r"^ *(- )?([a-z-]+: )?", "", line)
        assert line.endswith(":") or isinstance(json.loads(value), str), line


def test_it_is_a_citation_file_to_a_reader_of_yaml(full_account):
    said = yaml.safe_load(citation(full_account, MADE, AWKWARD))
    assert said["authors"] == [{"name": " ".join(AWKWARD.split())}]
    assert {one["type"] for one in said["references"]} <= {
        "generic", "patent", "website", "personal-communication",
    }  # fmt: skip
    assert all(one["title"] and one["authors"] for one in said["references"])


REQUIRED = {"creators", "titles", "publisher", "publicationYear", "types", "schemaVersion"}
"""What the schema's mandatory properties are, but for the identifier, which a registry gives."""


def test_what_the_schema_asks_for_is_there(full_account):
    told = datacite(full_account, MADE, "")
    assert told.keys() >= REQUIRED
    assert told["schemaVersion"] == "http://datacite.org/schema/kernel-4"
    assert told["types"]["resourceTypeGeneral"] == "Dataset"
    assert "doi" not in told and "identifiers" not in told
