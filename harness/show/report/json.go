package report

import (
	"io"
	"math"
	"strconv"
	"time"

	"drystage/harness"
	"drystage/harness/show/schema"
)

// JSON writes the verdicts as one JSON object (RFC 8259).
func JSON(w io.Writer, vs []harness.Verdict, opt Options) error {
	if len(vs) == 0 {
		return ErrEmpty
	}
	return suiteObject(vs, &opt).Write(w)
}

// Meanings that several outputs share.
const (
	runDoc     = "all that differs between two equal runs; records that are judged again have none"
	boardsDoc  = "each role with each of its addresses"
	foreignDoc = "files below the folders that are none of drystage's"
	seedDoc    = "as text: it may pass 2^53"
	answerDoc  = "fail if anything failed, else unsure if anything is unsure, else pass"
	digestDoc  = "SHA-256 of all files that the scenario was made of, in hex"
	placeDoc   = "FILE:LINE:COLUMN in the scenario"
)

func suiteObject(vs []harness.Verdict, opt *Options) object {
	t := harness.Tally(vs)
	return object{
		{"run", when(!opt.Began.IsZero(), runObject(opt)), runDoc},
		{"suite", object{
			{"answer", answer(harness.Worst(vs)), answerDoc},
			{"passed", t.Pass, "scenarios that pass"},
			{"failed", t.Fail, "scenarios that fail"},
			{"unsure", t.Unsure, "scenarios that are neither"},
			{"boards", list(seats(vs), seatObject), boardsDoc},
			{"not_flown", omitZero(harness.NotFlown(vs)), "of those that are unsure: not flown at all"},
			{"scenarios", list(vs, verdictObject), "in the order in which they were flown"},
			{"not_ours", when(len(opt.Foreign) > 0, opt.Foreign), foreignDoc},
		}, "equal for equal runs"},
		{"against", schema.ObjectIf(opt.Against, againstObject), "what differs from earlier records"},
	}
}

func runObject(opt *Options) object {
	return object{
		{"began", opt.Began.UTC().Format(time.RFC3339), "date and time (RFC 3339), UTC"},
		{"seconds", math.Round(opt.Took.Seconds()*1e3) / 1e3, "how long it took, s"},
		{"host", opt.Host, "name of the computer"},
		{"version", opt.Made.Version, "of drystage"},
		{"go", opt.Made.Go, "version of Go that built it"},
		{"arch", opt.Made.Arch, "operating system and processor"},
		{"boards", when(len(opt.Made.Boards) > 0, opt.Made.Boards), "where the boards were"},
	}
}

func seatObject(s *harness.BoardAddress) object {
	return object{
		{"role", s.Role, "of the board in the scenario"},
		{"address", omitZero(s.Address), "where the board was; without one it is not on record"},
	}
}

func verdictObject(v *harness.Verdict) object {
	return object{
		{"name", v.Name, "the scenario's file name without folder and ending"},
		{"title", v.Title, "its title"},
		{"file", v.File, "the path it was read from"},
		{"digest", v.Digest, digestDoc},
		{"seed", strconv.FormatUint(v.Seed, 10), seedDoc},
		{"answer", answer(v.Answer), answerDoc},
		{"not_flown", omitZero(v.NotFlown), "why it was not flown"},
		{"findings", list(Findings(v), findingObject), "one for each expectation, then one for each doubt about the run"},
		{"boards", list(v.Boards, healthObject), "one for each board, in the scenario's order"},
		{"seats", list(v.BoardAddresses, seatObject), "where the boards were, in the scenario's order"},
		{"warnings", when(len(v.Warned) > 0, list(v.Warned, warnedObject)), "of the flight itself"},
		{"timing", when(v.Timing.RealTime, timingObject(v)), "of a real-time run"},
	}
}

func findingObject(f *harness.Finding) object {
	return append(object{
		{"expectation", f.Text, "what was demanded, or what is in doubt"},
		{"place", omitZero(f.Place.String()), placeDoc},
		{"answer", answer(f.Answer), "to it"},
		{"wanted", omitZero(f.Wanted), "the window or limit, in numbers"},
		{"seen", omitZero(f.Seen), "the observation, in numbers"},
		{"reason", f.Reason, "a sentence: what was wanted, what was seen, when"},
	}, marginMembers(f, f.HasMargin)...)
}

// marginMembers are those of a finding that has a margin.
func marginMembers(f *harness.Finding, has bool) object {
	var margin, share *float64
	unit := ""
	if has {
		margin, share, unit = number(f.Margin), number(f.Share), f.Unit
	}
	return object{
		{"margin", omitZero(margin), "how far inside (above 0) or outside its limit, in `unit`"},
		{"unit", omitZero(unit), "of margin; none: a plain number"},
		{"share", omitZero(share), "margin as a share of half the window, of the limit, or of one second for a time at which an output must be dark"},
	}
}

func healthObject(h *harness.Health) object {
	return object{
		{"name", h.Name, "as the board gave it at the handshake"},
		{"boots", h.Boots, "handshakes that it answered"},
		{"unasked_restarts", h.Unasked, "restarts that no power cut explains"},
		{"corrupt_from_board", h.Bad, "frames"},
		{"lost_from_board", h.Lost, "frames missing by their sequence numbers"},
		{"corrupt_to_board", h.BoardBad, "frames, as the board counted them"},
		{"lost_to_board", h.BoardLost, "frames, as the board counted them"},
		{"edges_while_not_armed", h.Unarmed, "outputs that switched while the board said that it was not armed"},
		{"round_trips", h.RoundTrips, "questions that were answered"},
		{"armed_unbidden", omitZero(h.SelfArmed), "answers in which it said that it is armed though nobody had armed it"},
		{"answers", when(h.Answers.Limit != 0, answersObject(&h.Answers)), "how long it took, of a board with a processor or a process of its own"},
		{"questions_without_answer", h.Answers.Missing, "in real time"},
		{"exit_status", h.End.Status, "of the program that played the board"},
		{"ended_by_signal", omitZero(h.End.Signal), "the signal that ended that program"},
		{"told_to_end_by_signal", omitZero(h.End.Forced), "the signal by which drystage ended it, since it had not ended with its line"},
	}
}

func answersObject(a *harness.Answers) object {
	return object{
		{"limit_s", a.Limit.Seconds(), "for each answer, s"},
		{"slowest_s", a.Slowest.Seconds(), "the slowest answer, s"},
		{"slowest_at_s", a.At.Seconds(), "when it was asked for, s of the run"},
		{"added_by_bench_at_most_s", a.Bench.Seconds(), "how much of it this computer may have added, s"},
		{"over_limit", a.Over, "answers that took longer than the limit"},
	}
}

func warnedObject(w *harness.Warned) object {
	return object{
		{"kind", w.Kind, "its word, which `accepts` of a scenario takes"},
		{"text", omitZero(w.Text), "what, when, and how far beyond which limit"},
		{"outside_the_model", w.Outside, "the flight left its model, so that the verdict is unsure unless the scenario accepts it"},
		{"accepted", w.Accepted, "by the scenario"},
		{"never_came", omitZero(w.Missing), "accepted, and it never came"},
	}
}

func timingObject(v *harness.Verdict) object {
	t := &v.Timing
	return object{
		{"how", t.How, "what the operating system granted"},
		{"instants", t.Frames, "at which frames left"},
		{"late_limit_s", t.Limit.Seconds(), "a frame that leaves later leaves the run unsure, s"},
		{"late_p50_s", t.P50.Seconds(), "half of them left no later than this, s"},
		{"late_p99_s", t.P99.Seconds(), "99 % left no later, s"},
		{"late_p999_s", t.P999.Seconds(), "99.9 % left no later, s"},
		{"late_most_s", t.Most.Seconds(), "the latest, s"},
		{"over_limit", t.Over, "those that left later than the limit"},
		{"clocks", list(v.Clocks, clockObject), "the boards' own clocks, one for each start of a board"},
	}
}

func clockObject(c *harness.BoardClock) object {
	return object{
		{"board", c.Bay + 1, "counted from 1 in the scenario's order"},
		{"life", c.Life, "counts the board's starts"},
		{"readings", c.Readings, "of its clock"},
		{"used", c.Used, "those of the shortest delays"},
		{"shortest_delay_s", c.Delay.Seconds(), "there and back, s"},
		{"offset_s", c.Offset.Seconds(), "from drystage's clock, in the middle of the readings, s"},
		{"drift", c.Drift, "seconds per second"},
		{"within_s", c.Within.Seconds(), "expanded uncertainty (k = 2) of a time that it gives, s"},
		{"trouble", omitZero(c.Trouble), "why the clock can't be used"},
	}
}

// number rounds to six decimals; what JSON has no word for (infinity, NaN) is left out.
func number(x float64) *float64 { return schema.Number(x) }
