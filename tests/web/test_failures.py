"""One shape for failures."""

import pytest

SCRIPT = {"accept": "application/json"}


@pytest.mark.parametrize(
    ("method", "address", "status"),
    [
        ("GET", "/nothing", 404),
        ("GET", "/machine/none", 404),
        ("GET", "/job/1", 404),
        ("GET", "/job/one", 404),
        ("GET", "/job/1/progress.json", 404),
        ("GET", "/view/" + "0" * 64 + "/320.jpg", 404),
        ("GET", "/view/..%2f..%2fsecret/320.jpg", 404),
        ("GET", "/original/zz", 404),
        ("GET", "/reading?sort=date&text=soon", 422),
        ("GET", "/reading?sort=marking&text=%5B", 422),
        ("GET", "/strip/frame-a3.pdf", 404),
        ("DELETE", "/", 405),
        ("PUT", "/machine/none/photographs/one", 403),
        ("POST", "/machines", 400),
    ],
)
def test_a_script_gets_one_shape_of_failure(person, method, address, status):
    answer = person.client.request(method, address, headers=SCRIPT)
    assert answer.status_code == status
    failure = answer.json()
    assert set(failure) == {"error"}
    assert set(failure["error"]) == {"status", "says"}
    assert failure["error"]["status"] == status
    assert failure["error"]["says"].endswith(".")


def test_a_person_gets_a_page_with_the_sentence(person):
    answer = person.get("/machine/none", headers={"accept": "text/html"})
    assert answer.status_code == 404
    assert "There is no machine &#39;none&#39; in this workshop." in answer.text
    assert "<h1>Not here</h1>" in answer.text
