package main

import (
	"context"

	"drystage/harness"
	"drystage/harness/run"
	"drystage/harness/run/campaign"
)

// flyPlans is campaign.Judged for a list of plans.
func flyPlans(ctx context.Context, b *run.Bench, plans []harness.Plan, done func(i int, rec *harness.Record, v harness.Verdict) error) error {
	return campaign.Judged(ctx, b, len(plans), func(i int) run.Flight { return run.Flight{Plan: &plans[i]} }, done)
}
