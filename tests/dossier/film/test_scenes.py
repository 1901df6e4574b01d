"""What is still to be filmed, and what a film tells, out of the record alone."""

from ironlace.dossier.film.scenes import running_order, shot_list
from ironlace.evidence.grades import Grade

SHA = "ab" * 32


def test_an_empty_record_asks_for_the_whole_machine_and_tells_nothing(make_record):
    record = make_record([])
    assert [shot.what for shot in shot_list(record)] == ["the whole machine, from where one stands"]
    assert running_order(record) == ()


def test_what_is_photographed_is_not_asked_for_again(make_record):
    record = make_record(
        [
            {"kind": "photograph", "sha256": SHA, "role": "whole machine"},
            {"kind": "mark", "reads": "93", "where": "bed", "grade": "seen",
             "photographs": ["photograph 1"]},
            {"kind": "mark", "reads": "94", "where": "arm", "grade": "seen"},
            {"kind": "part", "name": "wheel", "grade": "seen", "risk": "watch it"},
            {"kind": "part", "name": "bed", "grade": "seen", "risk": "act now"},
            {"kind": "treatment", "what": "wax", "aim": "restoration", "stage": "intended",
             "undoing": "cannot be undone"},
            {"kind": "treatment", "what": "oil", "aim": "restoration", "stage": "done",
             "undoing": "cannot be undone", "after": ["photograph 1"]},
            {"kind": "statement", "about": "maker", "says": "Vane", "grade": "conjectured"},
            {"kind": "question", "asks": "Who?", "would_answer": "A letter."},
            {"kind": "question", "asks": "When?", "answer": "1893"},
        ]
    )  # fmt: skip
    shots = shot_list(record)
    assert [shot.name for shot in shots] == [
        "mark 2", "part 2", "part 1", "treatment 1", "statement 1", "question 1", "",
    ]  # fmt: skip
    assert "act now" in shots[1].why and "before wax" in shots[3].what
    assert shots[5].what == "A letter." and "no other machine is reported" in shots[6].why


def test_every_claim_carries_its_grade_and_what_shows_it(full_record):
    scenes = {scene.key: scene for scene in running_order(full_record)}
    claims = [one for scene in scenes.values() for one in scene.said if one.grade is not None]
    assert {one.grade for one in claims} == set(Grade)
    assert all(f"({one.grade.value})" in one.with_grade for one in claims)
    assert list(scenes)[:2] == ["machine", "marks"]
    ungraded = {one.name.split()[0] for s in scenes.values() for one in s.said if not one.grade}
    assert ungraded <= {"treatment", "question"}
    assert any(one.show for one in scenes["treatments"].said)
