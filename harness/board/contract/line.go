package contract

import (
	"fmt"
	"math"
	"strings"

	"drystage/sim"
)

// bitsPerByte on a serial line of 8 data bits, no parity and one stop bit (8N1).
const bitsPerByte = 10

// Rates are messages per second towards a board.
type Rates struct{ IMU, Baro, GNSS, Battery, Tick float64 }

// RatesOf gives the rates of a board's sensors, without ticks. An accelerometer and a gyro with different rates are
// counted as if they never shared a message, which is the maximum.
func RatesOf(s *sim.Sensors) Rates {
	imu := s.Accel.Rate + s.Gyro.Rate
	if s.Accel.Rate == s.Gyro.Rate {
		imu = s.Accel.Rate
	}
	return Rates{IMU: imu, Baro: s.Baro.Rate, GNSS: s.GNSS.Rate, Battery: s.Battery.Rate}
}

// LineUse is the share of a serial line (8N1) that messages at these rates take; 1 is a full line. A baud rate that
// is not positive gives +Inf.
func LineUse(baud int, r Rates) float64 {
	if baud <= 0 {
		return math.Inf(1)
	}
	bytes := 0.0
	for _, m := range table {
		bytes += float64(float64(m.LineBytes()) * r.of(m.Code))
	}
	return bytes * bitsPerByte / float64(baud)
}

func (r Rates) of(c Code) float64 {
	switch c {
	case CodeIMU:
		return r.IMU
	case CodeBaro:
		return r.Baro
	case CodeGNSS:
		return r.GNSS
	case CodeBattery:
		return r.Battery
	case CodeTick:
		return r.Tick
	}
	return 0
}

// Markdown gives the table for SPEC.md: a list of all messages, then the fields of each with their offsets in the
// payload.
func Markdown() string {
	var b strings.Builder
	b.WriteString("| message | type | from | bytes on the line | meaning |\n| --- | --- | --- | --- | --- |\n")
	for _, m := range table {
		fmt.Fprintf(&b, "| %s | 0x%02X | %s | %d | %s |\n", m.Name, uint8(m.Code), m.From, m.LineBytes(), m.Meaning)
	}
	for _, m := range table {
		if len(m.Fields) == 0 {
			continue
		}
		fmt.Fprintf(&b, "\n### %s\n\n| at | field | type | unit | meaning |\n| --- | --- | --- | --- | --- |\n", m.Name)
		at := 0
		for _, f := range m.Fields {
			fmt.Fprintf(&b, "| %d | %s | %s | %s | %s |\n", at, f.Name, f.Type, f.Unit, f.Meaning)
			at += f.Type.Size()
		}
	}
	return b.String()
}
