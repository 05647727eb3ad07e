package board

import (
	"context"
	"time"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/sim"
)

// await waits for a frame of the wanted type, and gives its payload. All other news goes into the reply.
func (c *Client) await(ctx context.Context, want contract.Code, wait time.Duration, r *harness.Reply, f *sim.Frame) ([]byte, error) {
	return c.session.Await(ctx, want, wait, func(m contract.Frame) error { return c.take(m, r, f) })
}

// take adds what a frame says to the reply.
func (c *Client) take(m contract.Frame, r *harness.Reply, f *sim.Frame) error {
	switch m.Code {
	case contract.CodeOutput:
		return c.output(m.Payload, f, r)
	case contract.CodeReport:
		return c.report(m.Payload, f, r)
	case contract.CodeLog:
		return c.log(m.Payload, f, r)
	}
	return nil
}

func (c *Client) report(p []byte, f *sim.Frame, r *harness.Reply) error {
	var m contract.Report
	if err := m.Decode(p); err != nil {
		return err
	}
	c.takeReport(&m, f, r)
	return nil
}

func (c *Client) takeReport(m *contract.Report, f *sim.Frame, r *harness.Reply) {
	c.health.Reports++
	r.Reports = append(r.Reports, harness.Report{Bay: f.Bay, At: contract.FromMicros(m.Time) - c.skew, Phase: m.Phase,
		Height: contract.FromMilli(m.Height), Speed: contract.FromMilli(m.Speed), Apogee: contract.FromMilli(m.Apogee)})
}

func (c *Client) log(p []byte, f *sim.Frame, r *harness.Reply) error {
	var l contract.Log
	if err := l.Decode(p); err != nil {
		return err
	}
	c.takeLog(&l, f, r)
	return nil
}

func (c *Client) takeLog(l *contract.Log, f *sim.Frame, r *harness.Reply) {
	r.Logs = append(r.Logs, harness.Log{Bay: f.Bay, At: contract.FromMicros(l.Time) - c.skew, Text: contract.Text(l.Text)})
}
