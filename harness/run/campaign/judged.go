package campaign

import (
	"context"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/harness/run"
)

// Judged flies as run.FlyEach does. Each flight is judged by the goroutine that has flown it, so that all processors
// judge; done gets the verdicts in order.
func Judged(ctx context.Context, b *run.Bench, n int, next func(i int) run.Flight, done func(i int, rec *harness.Record, v harness.Verdict) error) error {
	verdicts := make([]harness.Verdict, n)
	return b.FlyEach(ctx, n, func(i int) run.Flight {
		f := next(i)
		f.Over = func(rec *harness.Record) { verdicts[i] = verdict.JudgeFlown(rec) }
		return f
	}, func(i int, rec *harness.Record) error {
		v := verdicts[i]
		verdicts[i] = harness.Verdict{} // a long sweep keeps few
		return done(i, rec, v)
	})
}
