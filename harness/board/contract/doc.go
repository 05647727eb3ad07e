// Package contract holds what drystage and a flight computer say to each other: one table of
// messages, and their bytes on the line. Frames are COBS with a zero byte behind them and a CRC-32C
// inside; integers are little-endian in the units that the table states; each direction counts its
// frames modulo 256.
//
// It never opens a port, waits, or looks at a clock, and it never trusts a byte: whatever arrives,
// the decoder answers with a frame that the table allows, or counts it as bad.
package contract

//go:generate go test -run TestMessagesAreFresh -rewrite .
