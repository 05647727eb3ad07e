package record

import (
	"encoding/binary"
	"math"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// The columns of a harness.Report of one board.
const (
	reportAt = iota
	phaseLow
	phaseHigh
	reportHeight
	reportSpeed
	reportApogee
	reportColumns
)

// reportTraits are what is known of reports: boards send whole thousandths.
func reportTraits() []trait {
	const parts = 1000
	return []trait{{whole: true}, {whole: true}, {whole: true}, {parts: parts}, {parts: parts}, {parts: parts}}
}

func putReport(g *grid, row int, r *harness.Report) {
	g[reportAt][row] = uint64(r.At)
	g[phaseLow][row], g[phaseHigh][row] = binary.LittleEndian.Uint64(r.Phase[:8]), binary.LittleEndian.Uint64(r.Phase[8:])
	g[reportHeight][row], g[reportSpeed][row], g[reportApogee][row] = math.Float64bits(r.Height), math.Float64bits(r.Speed), math.Float64bits(r.Apogee)
}

func report(g *grid, row, bay int) harness.Report {
	r := harness.Report{Bay: bay, At: sim.Time(g[reportAt][row]), Height: at(g, reportHeight, row), Speed: at(g, reportSpeed, row), Apogee: at(g, reportApogee, row)}
	binary.LittleEndian.PutUint64(r.Phase[:8], g[phaseLow][row])
	binary.LittleEndian.PutUint64(r.Phase[8:], g[phaseHigh][row])
	return r
}

// The columns of a sim.Injection by one fault into one part of one board.
const (
	injectedAt = iota
	wasX
	wasY
	wasZ
	isX
	isY
	isZ
	injectionColumns
)

func putInjection(g *grid, row int, x *sim.Injection) {
	g[injectedAt][row] = uint64(x.At)
	putVec(g, wasX, row, &x.Was)
	putVec(g, isX, row, &x.Is)
}

// kindOf is what injections of one kind have in common, as a word.
func kindOf(x *sim.Injection) uint64 {
	return bit(x.Dropped, 0) | uint64(x.Part)<<1 | uint64(x.Bay)<<9 | uint64(x.Fault)<<32
}

// ofKind gives what injections of a kind have in common.
func ofKind(kind uint64) sim.Injection {
	return sim.Injection{Fault: int(kind >> 32), Bay: int(kind >> 9 & 0x7fffff), Part: sim.Part(kind >> 1), Dropped: kind&1 != 0}
}

func injection(g *grid, row int, kind uint64) sim.Injection {
	x := ofKind(kind)
	x.At, x.Was, x.Is = sim.Time(g[injectedAt][row]), vec(g, wasX, row), vec(g, isX, row)
	return x
}

// injectionTraits are what is known of injections of a kind: the part reads in steps.
func injectionTraits(kind uint64, s *sim.Setup) []trait {
	t := make([]trait, injectionColumns)
	t[injectedAt].whole = true
	for k := range 3 {
		t[isX+k].twin = wasX + k
	}
	x := ofKind(kind)
	if x.Bay >= len(s.Bays) {
		return t
	}
	for k := wasX; k <= isZ; k++ {
		t[k].step = resolution(&s.Bays[x.Bay].Sensors, x.Part)
	}
	return t
}

func resolution(s *sim.Sensors, p sim.Part) float64 {
	switch p {
	case sim.PartAccel:
		return s.Accel.Resolution
	case sim.PartGyro:
		return s.Gyro.Resolution
	case sim.PartBaro:
		return s.Baro.Resolution
	case sim.PartBattery:
		return s.Battery.Resolution
	case sim.PartMag:
		return s.Mag.Resolution
	}
	return 0
}

// kinds are the different words of a column, in order of their first place.
func kinds(words []uint64) (all []uint64) {
	for _, w := range words {
		if !slices.Contains(all, w) {
			all = append(all, w)
		}
	}
	return all
}

// packList appends what happened: rows of one kind stand together, since they are like each other.
func packList[T any](e *encoder, g *grid, list []T, kindOf func(*T) uint64, traits func(kind uint64) []trait, put func(*grid, int, *T)) {
	words := make([]uint64, len(list))
	for i := range list {
		words[i] = kindOf(&list[i])
	}
	var orders [1]int
	e.column(&column{words: words, whole: true}, &orders[0])
	for _, kind := range kinds(words) {
		n := 0
		for i := range list {
			if words[i] == kind {
				put(g, n, &list[i])
				n++
			}
		}
		h := hints()
		e.columns(g, nil, n, traits(kind), h[:])
	}
}

// unpackList fills in what happened.
func unpackList[T any](d *decoder, g *grid, list []T, traits func(kind uint64) []trait, get func(g *grid, row int, kind uint64) T) {
	words := make([]uint64, len(list))
	d.column(&column{words: words, whole: true})
	if d.bad {
		return
	}
	for _, kind := range kinds(words) {
		n := 0
		for _, w := range words {
			if w == kind {
				n++
			}
		}
		d.columns(g, nil, n, traits(kind))
		n = 0
		for i, w := range words {
			if w == kind {
				list[i] = get(g, n, kind)
				n++
			}
		}
	}
}

func packReports(e *encoder, g *grid, list []harness.Report) {
	traits := reportTraits()
	packList(e, g, list, func(r *harness.Report) uint64 { return uint64(r.Bay) }, func(uint64) []trait { return traits }, putReport)
}

func unpackReports(d *decoder, g *grid, list []harness.Report) {
	traits := reportTraits()
	unpackList(d, g, list, func(uint64) []trait { return traits },
		func(g *grid, row int, kind uint64) harness.Report { return report(g, row, int(kind)) })
}

func packInjected(e *encoder, g *grid, list []sim.Injection, s *sim.Setup) {
	packList(e, g, list, kindOf, func(kind uint64) []trait { return injectionTraits(kind, s) }, putInjection)
}

func unpackInjected(d *decoder, g *grid, list []sim.Injection, s *sim.Setup) {
	unpackList(d, g, list, func(kind uint64) []trait { return injectionTraits(kind, s) }, injection)
}
