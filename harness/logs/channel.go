package logs

import (
	"drystage/sim"
	"drystage/sim/quantity"
)

// Channel is one number of a part's sample.
type Channel struct {
	Part  sim.Part
	Index int    // into Stream.Data
	Word  string // as mapping files write it, such as "accelerometer x"
	Dim   quantity.Dimension
	Count float64 // SI per count, as the contract sends it
}

// The channels' places in Stream.Data.
const (
	X = 0
	Y = 1
	Z = 2

	Pressure    = 0
	Temperature = 1
	Height      = 2 // that a log tells in place of pressure

	Latitude   = 0
	Longitude  = 1
	Altitude   = 2
	East       = 3
	North      = 4
	Up         = 5
	Fix        = 6
	Satellites = 7

	Voltage = 0
)

const degree = 0.017453292519943295 // rad

var channels = []Channel{
	{sim.PartAccel, X, "accelerometer x", quantity.Acceleration, 1e-3},
	{sim.PartAccel, Y, "accelerometer y", quantity.Acceleration, 1e-3},
	{sim.PartAccel, Z, "accelerometer z", quantity.Acceleration, 1e-3},
	{sim.PartGyro, X, "gyro x", quantity.AngularRate, 1e-6},
	{sim.PartGyro, Y, "gyro y", quantity.AngularRate, 1e-6},
	{sim.PartGyro, Z, "gyro z", quantity.AngularRate, 1e-6},
	{sim.PartBaro, Pressure, "barometer pressure", quantity.Pressure, 1e-3},
	{sim.PartBaro, Temperature, "barometer temperature", quantity.Temperature, 1e-2},
	{sim.PartBaro, Height, "barometer height", quantity.Length, 1e-3},
	{sim.PartGNSS, Latitude, "gnss latitude", quantity.Angle, 1e-7 * degree},
	{sim.PartGNSS, Longitude, "gnss longitude", quantity.Angle, 1e-7 * degree},
	{sim.PartGNSS, Altitude, "gnss height", quantity.Length, 1e-3},
	{sim.PartGNSS, East, "gnss east", quantity.Speed, 1e-3},
	{sim.PartGNSS, North, "gnss north", quantity.Speed, 1e-3},
	{sim.PartGNSS, Up, "gnss up", quantity.Speed, 1e-3},
	{sim.PartGNSS, Fix, "gnss fix", quantity.Number, 1},
	{sim.PartGNSS, Satellites, "gnss satellites", quantity.Number, 1},
	{sim.PartBattery, Voltage, "battery voltage", quantity.Voltage, 1e-3},
}

// Words lists the words for channels in mapping files.
func Words() []string {
	var out []string
	for _, c := range channels {
		out = append(out, c.Word)
	}
	return append(out, ownSpeed, ownState, isCommand)
}

func channelsOf(p sim.Part) []Channel {
	for i, c := range channels {
		if c.Part == p {
			j := i
			for j < len(channels) && channels[j].Part == p {
				j++
			}
			return channels[i:j]
		}
	}
	return nil
}

func channelNamed(word string) (Channel, bool) {
	for _, c := range channels {
		if c.Word == word {
			return c, true
		}
	}
	return Channel{}, false
}
