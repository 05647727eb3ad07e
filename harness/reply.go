package harness

// Reply is what one board gave back in one exchange. Its slices are reused by the board that fills
// it.
type Reply struct {
	Outputs  []Edge // in order of time
	Reports  []Report
	Logs     []Log
	NMEA     []NMEASet
	Readings []ClockReading // of the board's own clock, in real time
	Changes  []HealthChange
}

// Empty says that nothing came back.
func (r *Reply) Empty() bool {
	return len(r.Outputs)+len(r.Reports)+len(r.Logs)+len(r.NMEA)+len(r.Readings)+len(r.Changes) == 0
}

// Reset empties the reply and keeps its memory.
func (r *Reply) Reset() {
	if r.Empty() {
		return
	}
	r.Outputs, r.Reports, r.Logs, r.Readings = r.Outputs[:0], r.Reports[:0], r.Logs[:0], r.Readings[:0]
	r.NMEA, r.Changes = r.NMEA[:0], r.Changes[:0]
}
