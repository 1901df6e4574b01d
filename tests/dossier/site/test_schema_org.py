"""What search engines read says no more than the account, and is JSON-LD to another reader."""

import json

from pyld import jsonld

from ironlace.dossier.account.record_to_account import account_of
from ironlace.dossier.site.schema_org import as_data_block, described


def about(make_record, *entries):
    return described(account_of(make_record(list(entries)), {}, {}), None)["about"]


def test_only_what_is_firm_is_a_fact(make_record):
    said = {"kind": "statement", "about": "maker", "says": "Pell Works"}
    assert "manufacturer" not in about(make_record, {**said, "grade": "conjectured"})
    assert about(make_record, {**said, "grade": "seen"})["manufacturer"]["name"] == "Pell Works"
    rival = {**said, "says": "Calder Vane", "grade": "seen"}
    assert "manufacturer" not in about(make_record, {**said, "grade": "seen"}, rival)


def test_a_number_is_told_where_it_was_seen(make_record):
    mark = {"kind": "mark", "reads": "93·217", "where": "bed", "purpose": "serial number"}
    assert about(make_record, {**mark, "grade": "seen"})["serialNumber"] == "93·217"
    assert "serialNumber" not in about(make_record, {**mark, "grade": "inferred"})


def test_pictures_say_their_rights_or_nothing(full_account, secret):
    told = described(full_account, None)
    rights = {one["@id"]: one.get("copyrightNotice") for one in told["image"]}
    assert rights["photographs.html#photograph-1"] == "may be copied with this account"
    assert rights["photographs.html#photograph-2"] is None
    assert secret not in json.dumps(told, ensure_ascii=False)


def test_it_expands_in_another_reader(full_account):
    told = described(full_account, None)

    # the vocabulary itself lies on the web: here its names alone, as its own context gives them
    def loader(url, _options):
        assert url == "https://schema.org/"
        document = {"@context": {"@vocab": "https://schema.org/"}}
        return {"contextUrl": None, "documentUrl": url, "document": document}

    (page,) = jsonld.expand(told, {"base": "https://iron.example/", "documentLoader": loader})
    assert page["@type"] == ["https://schema.org/WebPage"]
    (machine,) = page["https://schema.org/about"]
    assert machine["@id"] == "https://iron.example/#machine"
    assert machine["@type"] == ["https://schema.org/IndividualProduct"]


def test_no_text_ends_the_block_of_data():
    text = as_data_block({"name": "</script><b> & //x \ud800"})
    assert not set("<>&") & set(text) and "//" not in text
    assert json.loads(text)["name"].startswith("</script><b> & //x")
