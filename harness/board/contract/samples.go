package contract

import (
	"math"

	"drystage/sim"
	"drystage/sim/r3"
)

const (
	degrees   = 180 / math.Pi // in a radian
	freezing  = 273.15        // K at 0 degC
	coords    = 1e7           // counts in a degree
	hundredth = 100           // counts in a degree Celsius
)

// IMUOf makes the IMU message of a frame; what is not new stays 0.
func IMUOf(f *sim.Frame) (m IMU) {
	m.of(f)
	return m
}

func (m *IMU) of(f *sim.Frame) {
	*m = IMU{Time: Micros(f.Now)}
	if f.Has&sim.HasAccel != 0 {
		m.Has |= FreshAccel
		m.AccelX, m.AccelY, m.AccelZ = counts32(f.Accel.X*1e3, f.Accel.Y*1e3, f.Accel.Z*1e3)
	}
	if f.Has&sim.HasGyro != 0 {
		m.Has |= FreshGyro
		m.GyroX, m.GyroY, m.GyroZ = counts32(f.Gyro.X*1e6, f.Gyro.Y*1e6, f.Gyro.Z*1e6)
	}
}

// Into writes the fresh samples into a frame, in SI, and marks them.
func (m *IMU) Into(f *sim.Frame) {
	if m.Has&FreshAccel != 0 {
		f.Has |= sim.HasAccel
		f.Accel = r3.Vec{X: FromMilli(m.AccelX), Y: FromMilli(m.AccelY), Z: FromMilli(m.AccelZ)}
	}
	if m.Has&FreshGyro != 0 {
		f.Has |= sim.HasGyro
		f.Gyro = r3.Vec{X: float64(m.GyroX) / 1e6, Y: float64(m.GyroY) / 1e6, Z: float64(m.GyroZ) / 1e6}
	}
}

// BaroOf makes the barometer's message of a frame.
func BaroOf(f *sim.Frame) Baro {
	return Baro{
		Time:        Micros(f.Now),
		Pressure:    Count[uint32](f.Pressure * 1e3),
		Temperature: Count[int16]((f.Temperature - freezing) * hundredth),
	}
}

// Into writes the sample into a frame, in SI, and marks it.
func (m *Baro) Into(f *sim.Frame) {
	f.Has |= sim.HasBaro
	f.Pressure = float64(m.Pressure) / 1e3
	f.Temperature = float64(m.Temperature)/hundredth + freezing
}

// GNSSOf makes the message of a frame's GNSS fix.
func GNSSOf(f *sim.Frame) GNSS {
	g := &f.GNSS
	return GNSS{
		Time:       Micros(f.Now),
		Latitude:   Count[int32](g.Latitude * degrees * coords),
		Longitude:  Count[int32](g.Longitude * degrees * coords),
		Height:     Milli(g.Height),
		East:       Milli(g.Velocity.X),
		North:      Milli(g.Velocity.Y),
		Up:         Milli(g.Velocity.Z),
		Fix:        uint8(g.Kind),
		Satellites: Count[uint8](float64(g.Satellites)),
	}
}

// Into writes the fix into a frame, in SI, and marks it.
func (m *GNSS) Into(f *sim.Frame) {
	f.Has |= sim.HasGNSS
	f.GNSS = sim.Fix{
		Latitude:   float64(m.Latitude) / coords / degrees,
		Longitude:  float64(m.Longitude) / coords / degrees,
		Height:     FromMilli(m.Height),
		Velocity:   r3.Vec{X: FromMilli(m.East), Y: FromMilli(m.North), Z: FromMilli(m.Up)},
		Kind:       sim.FixKind(m.Fix),
		Satellites: int(m.Satellites),
	}
}

// CircuitsOf makes the message of what a frame's continuity check reads.
func CircuitsOf(f *sim.Frame) Circuits {
	return Circuits{Time: Micros(f.Now), Open: f.Circuits.Open, Shorted: f.Circuits.Short}
}

// Into writes what the check reads into a frame, and marks it.
func (m *Circuits) Into(f *sim.Frame) {
	f.Has |= sim.HasCircuits
	f.Circuits = sim.Circuits{Open: m.Open, Short: m.Shorted}
}

// MagOf makes the magnetometer's message of a frame.
func MagOf(f *sim.Frame) (m Mag) {
	m.Time = Micros(f.Now)
	m.FieldX, m.FieldY, m.FieldZ = counts32(f.Mag.X*1e9, f.Mag.Y*1e9, f.Mag.Z*1e9)
	return m
}

// Into writes the sample into a frame, in T, and marks it.
func (m *Mag) Into(f *sim.Frame) {
	f.Has |= sim.HasMag
	f.Mag = r3.Vec{X: float64(m.FieldX) / 1e9, Y: float64(m.FieldY) / 1e9, Z: float64(m.FieldZ) / 1e9}
}

// BatteryOf makes the message of a frame's supply voltage.
func BatteryOf(f *sim.Frame) Battery {
	return Battery{Time: Micros(f.Now), Voltage: Count[uint16](f.Battery * 1e3)}
}

// Into writes the voltage into a frame, in V, and marks it.
func (m *Battery) Into(f *sim.Frame) {
	f.Has |= sim.HasBattery
	f.Battery = float64(m.Voltage) / 1e3
}
