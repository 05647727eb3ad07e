package main

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"io"

	"drystage/harness"
	"drystage/harness/disk"
	"drystage/harness/files/record"
	"drystage/harness/judge/audit"
	"drystage/harness/judge/verdict"
	"drystage/harness/show/report"
)

type showCmd struct {
	Records  []string `arg:"" predictor:"file" help:"Records that bench --out wrote, or folders of them."`
	Format   string   `enum:"text,json,junit" default:"text" help:"text, json or junit."`
	HTML     string   `name:"html" placeholder:"FILE" help:"Write the evidence as a page with pictures, besides the verdicts."`
	Log      string   `placeholder:"FILE" type:"path" help:"Write what a board was given and did as a table, a flight log, and leave."`
	NMEA     string   `name:"nmea" placeholder:"FILE" help:"Write what a board's GNSS receiver said as NMEA 0183 sentences, and leave; - writes to standard output."`
	Injected bool     `help:"Print what each fault did, sample by sample around it: what was true, read, injected and sent; and leave."`
	CSV      string   `name:"csv" placeholder:"FILE" help:"Write every sample as it was true, read, injected and sent as a table, and leave; - writes to standard output."`
	Role     string   `placeholder:"ROLE" help:"With --log, --nmea and --csv: the board; default the first, of --csv all."`
}

// Run recomputes and judges the records; the same record gives the same verdict.
func (c *showCmd) Run(d *console) error {
	if c.HTML != "" && (c.Log != "" || c.NMEA != "" || c.Injected || c.CSV != "") {
		return wrongUse("--html goes with the verdicts; leave out --log, --nmea, --injected and --csv")
	}
	var err error
	if c.Records, err = recordsBelow(c.Records); err != nil {
		return err
	}
	if c.Log != "" {
		return c.export(d)
	}
	if c.NMEA != "" {
		return c.sentences(d)
	}
	if c.Injected || c.CSV != "" {
		return c.injected(d)
	}
	page := evidencePage{file: c.HTML}
	if err := page.check(); err != nil {
		return err
	}
	var verdicts []harness.Verdict
	opt := auditOptions(nil)
	for _, name := range c.Records {
		rec, err := load(name)
		if err != nil {
			return status{misused, err}
		}
		v := verdict.Judge(&rec, audit.Audit(&rec, opt)...)
		verdicts = append(verdicts, v)
		page.add(&rec, v)
	}
	if err := printVerdicts(d, c.Format, verdicts, report.Options{}); err != nil {
		return err
	}
	if err := page.write(d, c.Format, report.Options{}); err != nil {
		return err
	}
	return status{code: code(harness.Worst(verdicts))}.orNil()
}

func load(name string) (harness.Record, error) {
	rec, _, err := loadSummed(name)
	return rec, err
}

// loadSummed reads a record, and gives the SHA-256 of its bytes in hex.
func loadSummed(name string) (rec harness.Record, sum string, err error) {
	f, err := disk.Open(name)
	if err != nil {
		return harness.Record{}, "", err
	}
	defer f.Close()
	h := sha256.New()
	if rec, err = record.Read(bufio.NewReader(io.TeeReader(f, h))); err != nil {
		return rec, "", errorf("%s: %w", name, err)
	}
	return rec, hex.EncodeToString(h.Sum(nil)), nil // Read has read all there is
}

// save writes a record completely or not at all.
func save(name string, rec *harness.Record) error {
	return writeWhole(name, func(w io.Writer) error { return record.Write(w, rec) })
}
