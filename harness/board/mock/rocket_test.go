package mock

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"drystage/harness/board/contract"
)

// rocket is a simple two-stage flight along a line: a mass with thrust, drag and parachutes, and a tilt that the test
// sets. The board gets frames only.
type rocket struct {
	t       float64 // s
	h, v, a float64 // a: axial specific force
	burns   [2][2]float64
	drogue  bool
	main    bool
	tilt    func(t float64) float64
	air     float64 // Pa at the pad
}

const (
	launchAt = 3.0
	step     = 0.005
)

// newRocket burns its booster for 2 s, its sustainer on command.
func newRocket() *rocket {
	return &rocket{burns: [2][2]float64{{launchAt, launchAt + 2}, {math.Inf(1), math.Inf(1)}}, air: 96000,
		tilt: func(float64) float64 { return 0.05 }}
}

func (r *rocket) burning(i int) bool { return r.t >= r.burns[i][0] && r.t < r.burns[i][1] }

// fly advances by one step, with the explicit midpoint rule for the speed.
func (r *rocket) fly() {
	mass, drag, thrust := 1.5, 0.5*1.2*0.00229*0.55, 0.0
	if r.t > r.burns[0][1]+0.3 {
		mass = 0.7
	}
	if r.burning(0) {
		thrust = 115
	}
	if r.burning(1) {
		thrust = 65
	}
	if r.drogue {
		drag = 0.5 * 1.2 * 0.035
	}
	if r.main {
		drag = 0.5 * 1.2 * 0.9
	}
	r.a = (thrust - drag*r.v*math.Abs(r.v)) / mass
	up := r.a*math.Cos(r.tilt(r.t)) - standardGravity
	if r.h <= 0 && (up < 0 || r.v < 0) {
		r.h, r.v, r.a = 0, 0, standardGravity*math.Cos(r.tilt(r.t))
	} else {
		r.h += r.v*step + up*step*step/2
		r.v += up * step
	}
	r.t += step
}

// edge is an output that switched, with the true state at that time.
type edge struct {
	t       float64
	channel uint8
	on      bool
	h, v    float64
	armed   bool
}

// bench flies a rocket with one board. The hooks may change or drop messages.
type bench struct {
	*rocket
	g       *Board
	enc     contract.Encoder
	dec     *contract.Decoder
	rnd     *rand.Rand
	set     map[string]float64
	order   []string
	still   bool                        // the motor never lights
	dead    bool                        // the upper motor never lights
	late    float64                     // s, igniter delay
	imu     func(m *contract.IMU)       // spoils
	baro    func(m *contract.Baro) bool // false: no sample
	gnss    func(m *contract.GNSS) bool
	give    map[int]uint8 // commands by step
	cut     [2]float64    // s, supply off
	off     bool
	line    func(in []byte) []byte // spoils the bytes
	split   bool                   // one byte at a time
	edges   []edge
	logs    []string
	reports []contract.Report
	done    contract.Done
	top     float64
	topAt   float64
	buf     []byte
	out     []byte
}

// at gives the step of a time.
func at(t float64) int { return int(math.Round(t / step)) }

func newBench(t testing.TB, defect string) *bench {
	g, err := New(defect)
	require.NoError(t, err)
	b := &bench{rocket: newRocket(), g: g, dec: contract.NewDecoder(contract.FromBoard), rnd: rand.New(rand.NewPCG(1, 2)), late: 0.15,
		give: map[int]uint8{at(1): contract.Arm},
		set:  map[string]float64{"staging_channel": 1, "drogue_channel": 2, "main_channel": 3, "pulse": 0.5}}
	for _, s := range Settings() {
		b.order = append(b.order, s.Name)
	}
	return b
}

func (b *bench) hello() {
	b.buf = b.enc.Hello(b.buf, &contract.Hello{Version: 1, Nonce: 7, Time: b.us(), IMUHz: 200, BaroHz: 50, GNSSHz: 10, Role: fixed16("sustainer")})
	for _, name := range b.order {
		if v, ok := b.set[name]; ok {
			var n [24]byte
			copy(n[:], name)
			b.buf = b.enc.Setting(b.buf, &contract.Setting{Name: n, Value: int32(math.Round(v * 1000))})
		}
	}
}

func (b *bench) us() uint32 { return uint32(math.Round(b.t * 1e6)) }

// run flies to a time.
func (b *bench) run(until float64) *bench {
	if b.still {
		b.burns[0][0] = math.Inf(1)
	}
	if b.t == 0 {
		b.hello()
	}
	for k := at(b.t); b.t < until; k++ {
		b.t = float64(k) * step
		b.send(k)
		b.take()
		b.fly()
		if b.h > b.top {
			b.top, b.topAt = b.h, b.t
		}
	}
	return b
}

func (b *bench) send(k int) {
	if b.cut[1] > 0 {
		switch in := b.t >= b.cut[0] && b.t < b.cut[1]; {
		case in && !b.off:
			b.buf = b.enc.Restart(b.buf, &contract.Restart{Nonce: 1})
			b.off = true
			b.exchange()
			return
		case in:
			return
		case b.off:
			b.off = false
			b.dec.Forget()
			b.hello()
		}
	}
	b.senses(k)
	if c := b.give[k]; c != 0 {
		b.buf = b.enc.Command(b.buf, &contract.Command{Time: b.us(), Command: c})
	}
	b.buf = b.enc.Tick(b.buf, &contract.Tick{Time: b.us()})
	b.exchange()
}

func (b *bench) senses(k int) {
	th := b.tilt(b.t)
	rate := -(b.tilt(b.t) - b.tilt(b.t-step)) / step
	ax, ay := b.a, 0.0
	if b.h == 0 {
		ax, ay = standardGravity*math.Cos(th), standardGravity*math.Sin(th)
	}
	m := contract.IMU{Time: b.us(), Has: 3, AccelX: b.mm(ax+0.1, 0.05), AccelY: b.mm(ay, 0.05), AccelZ: b.mm(0, 0.05),
		GyroX: b.urad(0.002), GyroY: b.urad(0), GyroZ: b.urad(rate)}
	if b.imu != nil {
		b.imu(&m)
	}
	if m.Has != 0 {
		b.buf = b.enc.IMU(b.buf, &m)
	}
	if k%4 == 0 {
		m := contract.Baro{Time: b.us(), Pressure: uint32(1000 * math.Round(b.pressure()+3*b.rnd.NormFloat64()))}
		if b.baro == nil || b.baro(&m) {
			b.buf = b.enc.Baro(b.buf, &m)
		}
	}
	if k%20 == 0 {
		m := contract.GNSS{Time: b.us(), Height: b.mm(450+b.h, 3), Up: b.mm(b.v, 0.1), Fix: 3, Satellites: 9}
		if b.gnss == nil || b.gnss(&m) {
			b.buf = b.enc.GNSS(b.buf, &m)
		}
	}
}

// pressure is that of a standard day at the rocket's height above a pad with pressure air, by the
// barometric formula and not by the board's code.
func (b *bench) pressure() float64 {
	pad := 44330.769 * (1 - math.Pow(b.air/101325, 0.190263237))
	return 101325 * math.Pow(1-(pad+b.h)/44330.769, 1/0.190263237)
}

func (b *bench) mm(x, noise float64) int32 { return int32(1000 * (x + noise*b.rnd.NormFloat64())) }
func (b *bench) urad(x float64) int32      { return int32(1e6 * (x + 0.0017*b.rnd.NormFloat64())) }

func (b *bench) exchange() {
	in := b.buf
	if b.line != nil {
		in = b.line(in)
	}
	b.out = b.out[:0]
	if b.split {
		for i := range in {
			b.out = b.g.Feed(in[i:i+1], b.out)
		}
	} else {
		b.out = b.g.Feed(in, b.out)
	}
	b.buf = b.buf[:0]
}

// take reads the board's answer and applies its outputs.
func (b *bench) take() {
	in := b.out
	for {
		f, rest, ok := b.dec.Next(in)
		if !ok {
			b.out = b.out[:0]
			return
		}
		in = rest
		switch f.Code {
		case contract.CodeOutput:
			var m contract.Output
			_ = m.Decode(f.Payload)
			b.edges = append(b.edges, edge{b.t, m.Channel, m.On == 1, b.h, b.v, b.done.Armed == 1})
			b.act(m)
		case contract.CodeLog:
			var m contract.Log
			_ = m.Decode(f.Payload)
			b.logs = append(b.logs, string(m.Text))
		case contract.CodeReport:
			var m contract.Report
			_ = m.Decode(f.Payload)
			b.reports = append(b.reports, m)
		case contract.CodeDone:
			_ = b.done.Decode(f.Payload)
		}
	}
}

func (b *bench) act(m contract.Output) {
	if m.On == 0 {
		return
	}
	switch m.Channel {
	case 1:
		if !b.dead && math.IsInf(b.burns[1][0], 1) {
			b.burns[1] = [2]float64{b.t + b.late, b.t + b.late + 1.5}
		}
	case 2:
		b.drogue = true
	case 3:
		b.main = true
	}
}

// fired gives the times at which a channel switched on.
func (b *bench) fired(channel uint8) (es []edge) {
	for _, e := range b.edges {
		if e.on && e.channel == channel {
			es = append(es, e)
		}
	}
	return es
}
