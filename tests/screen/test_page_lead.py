"""What the page says while a bout runs: to the eye what happens now, to a screen reader each sentence once."""

from tests.screen import made_views as made

LEAD_IS = "words => document.getElementById('lead').textContent === words"


def told_to_ears(stage):
    """All that a screen reader is told by the live region from now on."""
    stage.page.evaluate("""() => {
        window.spoken = [];
        const told = document.getElementById("spoken");
        new MutationObserver(() => window.spoken.push(told.textContent)).observe(told, {childList: true, characterData: true, subtree: true});
    }""")


def test_the_lead_says_what_happens_now_and_a_screen_reader_hears_no_beats(stage):
    stage.show(made.plan())
    told_to_ears(stage)
    view = made.bout(shown=made.picture(tempo_bpm=150.0, beats=8, live=True))
    stage.run(view, -1.5)
    lead = stage.page.locator("#lead")
    assert lead.inner_text() == "Count in, then go."
    for words in ("Going: beat 3 of 8.", "Done. It stops by itself."):
        stage.page.wait_for_function(LEAD_IS, arg=words)
    stage.show(made.told())
    assert lead.inner_text() == made.told().lead
    assert stage.page.evaluate("window.spoken") == ["Count in, then go.", "Go.", "Done. It stops by itself.", made.told().lead]


def test_without_a_cue_the_lead_counts_what_was_heard_and_says_it_to_the_eye_only(stage):
    running = stage.run(made.free_bout(), 1.0)
    told_to_ears(stage)
    for n in range(3):
        running.footfall(1.2 + 0.3 * n, 0.6)
    stage.page.wait_for_function(LEAD_IS, arg="Heard so far: 3.")
    assert stage.page.evaluate("window.spoken") == []


def test_the_stop_key_is_in_sight_where_text_is_twice_as_large(opened):
    stage = opened(viewport={"width": 683, "height": 384})
    stage.run(made.bout(), 1.0)
    box = stage.page.locator(".key.stop").bounding_box()
    assert box["y"] >= 0
    assert box["y"] + box["height"] <= 384
