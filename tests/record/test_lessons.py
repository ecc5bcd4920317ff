from __future__ import annotations

from record import jobs, lessons, media, queue
from record.correct import correct
from tests.record.conftest import BEGAN, WHO, began, draft, kept, spoken


def test_a_decision_stands_beside_its_memo_and_one_put_right_later_counts_as_amended(store):
    with store.session() as session:
        job = jobs.job_for(session, BEGAN)
        one = media.note(session, kept(), began())
        media.keep_transcript(session, one.id, spoken("torqued the filter to seventeen"))
        media.join(session, one.id, job)
        (number,) = queue.put(session, job, [draft()])
        (memo,) = lessons.memos(session)
        assert (memo.name, memo.decided) == ("memo_01.wav", ())
        (entry,) = queue.confirm(session, [number], WHO)
        (told,) = lessons.memos(session)[0].decided
        assert (told.state, told.start, told.by) == ("confirmed", 12.4, WHO)
        correct(session, entry.id, "18", WHO, "misread")
        (told,) = lessons.memos(session)[0].decided
        assert (told.state, str(told.value), str(told.entered)) == ("amended", "17", "18")
