//go:build linux

package firmwarecontract

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"text/tabwriter"
	"time"

	"drystage/harness"
	"drystage/harness/board/conformance"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/judge/verdict"
	"drystage/harness/setting"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// fewEnd is when the few flights of make check end, after apogee: until then a flight has the most to decide. make
// boards flies all scenarios on each port, to the ground.
const fewEnd = 3 * sim.Second

const slowBarometer = 20.0 // Hz

// line is what is known of a port at the end.
type line struct {
	sizes
	points, pointsOf int
	equal, flown     int
	took             time.Duration   // sum over the flights
	latency          []time.Duration // from the last byte in to an edge, by the chip's clock
}

// TestBoards flies the reference firmware as a process, on an emulated AVR and on an emulated Cortex-M3, and
// wants what the mock does: with 64-bit numbers every word of the record, with 32-bit ones the same edges,
// none more than a tick away, and the same verdicts.
func TestBoards(t *testing.T) {
	if raceOn {
		t.Skip("emulators are not raced; make suite flies them without")
	}
	all := os.Getenv("DRYSTAGE_BOARDS") == "all"
	lines := make([]line, len(ports))
	var lock sync.Mutex
	t.Run("on", func(t *testing.T) {
		for i, p := range ports {
			t.Run(p.name, func(t *testing.T) {
				dir := p.build(t)
				lines[i].sizes = p.measure(t, dir)
				if all || !p.flightsOnly {
					t.Run("contract", func(t *testing.T) {
						t.Parallel()
						lines[i].points, lines[i].pointsOf = p.conforms(t, dir)
					})
				}
				for _, file := range p.scenarios(t, all) {
					t.Run(strings.TrimSuffix(filepath.Base(file), ".yaml"), func(t *testing.T) {
						t.Parallel()
						plan := planOf(t, file)
						if !all {
							plan.Setup.Until = sim.Anchor{Event: sim.EventApogee, Offset: fewEnd}
						}
						lock.Lock()
						lines[i].flown++
						lock.Unlock()
						began := time.Now()
						edges := p.fliesAsTheMock(t, dir, plan)
						lock.Lock()
						defer lock.Unlock()
						lines[i].took += time.Since(began)
						lines[i].latency = append(lines[i].latency, edges...)
						if !t.Failed() {
							lines[i].equal++
						}
					})
				}
			})
		}
	})
	said := table(lines)
	t.Log("\n" + said)
	if to := os.Getenv("DRYSTAGE_TABLE"); to != "" {
		require.NoError(t, os.WriteFile(to, []byte(said), 0o600))
	}
}

// scenarios are the files that the port flies.
func (p *port) scenarios(t *testing.T, all bool) (files []string) {
	for _, name := range p.few {
		files = append(files, "../scenarios/"+name+".yaml")
	}
	if all {
		var err error
		files, err = filepath.Glob("../scenarios/*.yaml")
		require.NoError(t, err)
	}
	require.NotEmpty(t, files)
	return files
}

// measure reads the sizes, and holds the library's share on the AVR to its promises.
func (p *port) measure(t *testing.T, dir string) sizes {
	s := sizesOf(t, filepath.Join(dir, p.file))
	require.Greater(t, s.libraryFlash, 1000)
	require.Greater(t, s.libraryRAM, 150)
	if p.name == "avr" {
		assert.Less(t, s.libraryFlash, mostFlash, "the library's flash")
		assert.Less(t, s.libraryRAM, mostRAM, "the library's RAM")
	}
	return s
}

// conforms holds the port against the contract, point by point.
func (p *port) conforms(t *testing.T, dir string) (passed, of int) {
	address, _ := p.address(t, dir)
	l, err := link.Open(t.Context(), address, link.Options{})
	require.NoError(t, err)
	defer l.Close()
	rep := conformance.Run(t.Context(), l, conformance.Options{Timeout: 30 * time.Second, AnswerLimit: 30 * time.Second, Limit: 10 * time.Minute, Known: setting.Builtin(), Settings: []harness.Setting{{Name: "drogue_channel", Value: 1}, {Name: "main_channel", Value: 2}}})
	for _, x := range rep.Points {
		assert.Equal(t, conformance.Pass, x.Outcome, "%s: sent %s; came %s; %s", x.Name, x.Sent, x.Came, x.Why)
	}
	require.Equal(t, harness.Pass, rep.Answer())
	return rep.Count(conformance.Pass), len(rep.Points)
}

// fliesAsTheMock flies a plan on the port and on the mock. It gives how long the pins took after the TICK.
func (p *port) fliesAsTheMock(t *testing.T, dir string, plan harness.Plan) (latency []time.Duration) {
	want := fly(t, plan, onMock)
	var boards []*tap
	var pins []string
	have := fly(t, plan, func(string) (link.Link, error) {
		address, file := p.address(t, dir)
		x, err := open(t.Context(), address)
		boards, pins = append(boards, x), append(pins, file)
		return x, err
	})
	require.True(t, have.Complete(), have.Cause)
	wanted, judged := verdict.Judge(want), verdict.Judge(have)
	if p.exact {
		require.Equal(t, want.Outputs, have.Outputs)
		require.Equal(t, want.Reports, have.Reports)
		require.Equal(t, wanted.Findings, judged.Findings)
	} else {
		near(t, &plan, want.Outputs, have.Outputs)
	}
	require.Equal(t, wanted.Answer, judged.Answer)
	require.Len(t, judged.Findings, len(wanted.Findings))
	for i, f := range wanted.Findings {
		require.Equal(t, f.Answer, judged.Findings[i].Answer, "%s: the mock: %s; here: %s", f.Text, f.Reason, judged.Findings[i].Reason)
	}
	if p.pins {
		for i, x := range boards {
			latency = append(latency, heldAgainstPins(t, x, pins[i])...)
		}
	}
	return latency
}

// near wants the same edges in the same order of each board, none further away than a period of the fastest sensor. With a
// slow barometer a period of that: in 32 bits the mean of the few pressures on the pad stands still some Pa away, 0.2 m.
func near(t *testing.T, plan *harness.Plan, want, have []harness.Edge) {
	for bay := range plan.Setup.Bays {
		s := &plan.Setup.Bays[bay].Sensors
		tick := sim.Seconds(1 / max(s.Accel.Rate, s.Gyro.Rate, s.Baro.Rate))
		if 0 < s.Baro.Rate && s.Baro.Rate < slowBarometer {
			tick = sim.Seconds(1 / s.Baro.Rate)
		}
		w, h := edgesOf(want, bay), edgesOf(have, bay)
		require.Len(t, h, len(w), "bay %d", bay)
		for i := range w {
			assert.Equal(t, w[i].Channel, h[i].Channel)
			assert.Equal(t, w[i].On, h[i].On)
			assert.InDelta(t, int64(w[i].At), int64(h[i].At), float64(tick), "channel %d %t: the mock at %s, here at %s", w[i].Channel, w[i].On, w[i].At, h[i].At)
			if w[i].At != h[i].At {
				t.Logf("channel %d %t: the mock at %s, here at %s", w[i].Channel, w[i].On, w[i].At, h[i].At)
			}
		}
	}
}

func edgesOf(all []harness.Edge, bay int) (out []harness.Edge) {
	for _, e := range all {
		if e.Bay == bay {
			out = append(out, e)
		}
	}
	return out
}

func table(lines []line) string {
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "port\tnumbers\tflash\tRAM\tlibrary's flash\tlibrary's RAM\tcontract\tscenarios as the mock\ts of wall each")
	for i, l := range lines {
		each := 0.0
		if l.flown > 0 {
			each = l.took.Seconds() / float64(l.flown)
		}
		fmt.Fprintf(w, "%s\t%s\t%d\t%d\t%d\t%d\t%d of %d\t%d of %d\t%.1f\n", ports[i].name, ports[i].number, l.flash, l.ram,
			l.libraryFlash, l.libraryRAM, l.points, l.pointsOf, l.equal, l.flown, each)
	}
	_ = w.Flush()
	for i, l := range lines {
		if n := len(l.latency); n > 0 {
			fmt.Fprintf(&b, "%s: %d edges of pins, each at its OUTPUT; from the last byte of TICK to the edge %s at most\n", ports[i].name, n, longest(l.latency))
		}
	}
	return b.String()
}

func longest(all []time.Duration) (most time.Duration) {
	for _, d := range all {
		most = max(most, d)
	}
	return most.Round(time.Microsecond)
}

// told is an OUTPUT of the board: where its frame begins among the bytes sent.
type told struct {
	contract.Output
	from int
}

// heldAgainstPins reads what the chip's pins did, and wants an edge for each OUTPUT and an OUTPUT for each edge: after the
// TICK of the OUTPUT's time had come in, and before the OUTPUT went out. Edges without a word are those of
// RESTART, which makes dark, and of BYE, after which nobody listens.
func heldAgainstPins(t *testing.T, x *tap, file string) (latency []time.Duration) {
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	ticks, silent := heard(x.in)
	outputs := outputsIn(x.out)
	for row := range bytes.Lines(text) {
		var cycle, since uint64
		var in, out, bit, level int
		var name rune
		_, err := fmt.Sscanf(string(row), "%d %d %d %d %c%d %d", &cycle, &since, &in, &out, &name, &bit, &level)
		require.NoError(t, err, "%s", row)
		channel := map[rune]int{'A': 1, 'C': 9}[name] + bit
		if silent[in] {
			require.Zero(t, level, "%s", row)
			continue
		}
		require.NotEmpty(t, outputs, "an edge that was not told: %s", row)
		o := outputs[0]
		outputs = outputs[1:]
		at, tick := ticks[in]
		require.True(t, tick, "an edge without a TICK before it: %s", row)
		require.Equal(t, o.Time, at, "%s", row)
		require.Equal(t, []int{int(o.Channel), int(o.On)}, []int{channel, level}, "%s", row)
		require.LessOrEqual(t, out, o.from, "the pin first, then the word: %s", row)
		latency = append(latency, time.Duration(since)*time.Second/16_000_000)
	}
	require.Empty(t, outputs, "OUTPUTs without an edge")
	return latency
}

// heard finds where each TICK ends among the bytes to a board, and where RESTARTs, HELLOs and BYEs do.
func heard(in []byte) (ticks map[int]uint32, silent map[int]bool) {
	ticks, silent = map[int]uint32{}, map[int]bool{}
	d := contract.NewDecoder(contract.FromHost)
	for rest := in; ; {
		f, after, ok := d.Next(rest)
		if !ok {
			return ticks, silent
		}
		rest = after
		end := len(in) - len(rest)
		switch f.Code {
		case contract.CodeTick:
			var m contract.Tick
			_ = m.Decode(f.Payload)
			ticks[end] = m.Time
		case contract.CodeRestart, contract.CodeHello, contract.CodeBye:
			silent[end] = true
		}
	}
}

func outputsIn(out []byte) (all []told) {
	d := contract.NewDecoder(contract.FromBoard)
	from := 0
	for rest := out; ; {
		f, after, ok := d.Next(rest)
		if !ok {
			return all
		}
		rest = after
		if f.Code == contract.CodeOutput {
			o := told{from: from}
			_ = o.Decode(f.Payload)
			all = append(all, o)
		}
		from = len(out) - len(rest)
	}
}
