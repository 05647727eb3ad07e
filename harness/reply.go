package harness

// Reply is a board's answer in one exchange. The board that fills it reuses its slices.
type Reply struct {
	Outputs  []Edge // in order of time
	Reports  []Report
	Logs     []Log
	NMEA     []NMEASet
	Readings []ClockReading // of the board's own clock, in real time
	Changes  []HealthChange
}

// Empty says that the reply holds nothing.
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
