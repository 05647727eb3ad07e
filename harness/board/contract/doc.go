// Package contract is what drystage and a flight computer send each other: one table of messages, and their bytes on
// the line. Frames are COBS with a zero byte behind them and a CRC-32C inside. Integers are little-endian in the
// units that the table states. Each direction counts its frames modulo 256.
//
// It never opens a port, waits, or reads a clock. Any bytes may arrive: the decoder gives a frame that the table
// allows, or counts the bytes as bad.
package contract

//go:generate go test -run TestMessagesAreFresh -rewrite .
