"""What the page says while a bout runs: to the eye what happens now, to a screen reader each sentence once."""

import re

from tests.screen import made_views as made

LEAD_IS = "words => document.getElementById('lead').textContent === words"


def noted(stage, part):
    """Begin to note all that a part of the page says."""
    stage.page.evaluate(
        """part => {
            const told = document.getElementById(part);
            (window.noted ??= {})[part] = [];
            new MutationObserver(() => window.noted[part].push(told.textContent)).observe(told, {childList: true, characterData: true, subtree: true});
        }""",
        part,
    )


def said(stage, part):
    """All that the part said since."""
    return stage.page.evaluate("part => window.noted[part]", part)


def test_the_lead_says_what_happens_now_and_a_screen_reader_hears_no_beats(stage):
    stage.show(made.plan())
    noted(stage, "spoken")
    noted(stage, "lead")
    stage.run(made.bout(shown=made.picture(tempo_bpm=150.0, beats=8, live=True)), -1.5)
    stage.page.wait_for_function(LEAD_IS, arg="Done. It stops by itself.")
    first, *beats, last = said(stage, "lead")
    assert (first, last) == ("Count in, then go.", "Done. It stops by itself.")
    numbers = [int(re.fullmatch(r"Going: beat (\d) of 8\.", words).group(1)) for words in beats]
    assert numbers == sorted(set(numbers))
    assert len(numbers) > 2  # a busy computer may draw no frame in one of them
    stage.show(made.told())
    assert stage.page.locator("#lead").inner_text() == made.told().lead
    assert said(stage, "spoken") == ["Count in, then go.", "Go.", "Done. It stops by itself.", made.told().lead]


def test_without_a_cue_the_lead_counts_what_was_heard_and_says_it_to_the_eye_only(stage):
    running = stage.run(made.free_bout(), 1.0)
    noted(stage, "spoken")
    for n in range(3):
        running.footfall(1.2 + 0.3 * n, 0.6)
    stage.page.wait_for_function(LEAD_IS, arg="Heard so far: 3.")
    assert said(stage, "spoken") == []


def test_the_stop_key_is_in_sight_where_text_is_twice_as_large(opened):
    stage = opened(viewport={"width": 683, "height": 384})
    stage.run(made.bout(), 1.0)
    box = stage.page.locator(".key.stop").bounding_box()
    assert box["y"] >= 0
    assert box["y"] + box["height"] <= 384
