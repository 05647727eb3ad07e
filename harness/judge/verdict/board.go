package verdict

import (
	"fmt"
	"math"

	"drystage/harness"
)

// reports compares a board's last report with the true state. The true value is the greatest height of the body that
// carries the board, at the ticks; between two ticks, 5 ms apart, it can be higher by 0.03 mm (g dt^2 / 8).
func (j *judge) reports(e *harness.Expectation, f *harness.Finding) {
	l := limits{least: math.Inf(-1), most: math.Inf(1)}
	if e.HasMost {
		l.most = e.Most
	}
	truth, top := math.Inf(-1), 0
	stage := j.rec.Plan.Setup.Bays[e.Bay].Stage
	for i := range j.rec.Times {
		if h := j.rec.State(i, stage).Height(); h > truth {
			truth, top = h, i
		}
	}
	u := unit{"m", 1}
	f.Wanted = "an apogee height within " + u.show(l.most) + " of " + u.show(truth)
	last := -1
	for i, r := range j.rec.Reports {
		if r.Bay == e.Bay && (last < 0 || r.At >= j.rec.Reports[last].At) {
			last = i
		}
	}
	name := j.rec.Plan.Setup.Bays[e.Bay].Name
	if last < 0 {
		f.Seen, f.Reason = "no report", fmt.Sprintf("%s reported nothing; %s", name, j.endWord())
		if j.rec.Complete() {
			f.Answer = harness.Fail
		}
		return
	}
	r := j.rec.Reports[last]
	if last := j.rec.State(top, stage); j.rec.Complete() && top == len(j.rec.Times)-1 && !last.Landed && !last.OnPad {
		f.Seen = u.show(r.Apogee)
		f.Reason = fmt.Sprintf("%s at %s, still on its way up, so that there is no apogee to report yet; set `until: apogee + 1 s` or later", j.endWord(), u.show(truth))
		return
	}
	miss := math.Abs(r.Apogee - truth)
	f.Seen = u.show(r.Apogee)
	f.Reason = fmt.Sprintf("%s last reported an apogee height of %s at %s, off by %s", name, f.Seen, r.At, u.show(miss))
	if !j.rec.Complete() {
		f.Reason += ", but " + j.endWord()
		return
	}
	f.Answer = guard(l.least, l.most, miss, miss)
	f.Margin, f.Share, f.HasMargin = l.margin(miss)
	f.Unit = u.sign
}

// alive judges that a board answered to the end and never restarted without a power cut. A board that stops answering
// ends the run early; only the text of the cause says which board that was, so the answer is unsure.
func (j *judge) alive(e *harness.Expectation, f *harness.Finding) {
	f.Wanted = "answers to the end, no restart but after a power cut"
	if e.Bay >= len(j.rec.Health) {
		f.Reason = "nothing is on record of this board's health"
		return
	}
	h, name := &j.rec.Health[e.Bay], j.rec.Plan.Setup.Bays[e.Bay].Name
	f.Seen = fmt.Sprintf("%s, %s", count(h.Unasked, "unasked restart"), count(h.RoundTrips, "answer"))
	switch {
	case h.Unasked > 0:
		f.Answer = harness.Fail
		f.Reason = fmt.Sprintf("%s restarted %s though its power was on", name, times(h.Unasked))
	case !j.rec.Complete():
		f.Reason = j.endWord() + ": " + j.cause()
	case h.Answers.Missing > 0:
		f.Reason = fmt.Sprintf("%s left %s without an answer, the first at %s", name, count(h.Answers.Missing, "question"), h.Answers.MissingAt)
	case h.RoundTrips == 0 && h.Boots == 0:
		f.Reason = name + " never answered anything"
	default:
		f.Answer = harness.Pass
		f.Reason = name + " answered to the end and did not restart by itself"
	}
}

// count prints a number with a noun.
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}
