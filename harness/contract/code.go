package contract

import "errors"

// Code is the type byte of a frame.
type Code uint8

// ErrLength says that a payload has not the length of the message it was decoded as. Frames from a
// Decoder never give it for their own message.
var ErrLength = errors.New("contract: payload has the wrong length for this message")

// row is the table's row in the form that the decoder needs.
type row struct {
	known       bool
	from        Direction
	least, most uint8
}

// rows has the table's row at each code.
var rows = func() (rs [256]row) {
	for _, m := range table {
		least, most := m.Sizes()
		rs[m.Code] = row{true, m.From, uint8(least), uint8(most)}
	}
	return rs
}()
