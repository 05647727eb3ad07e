package contract

import "errors"

// Code is the type byte of a frame.
type Code uint8

// ErrLength says that a payload does not have the length of the message that it was decoded as. A frame from a
// Decoder never gives it when decoded as its own message.
var ErrLength = errors.New("contract: payload has the wrong length for this message")

// row is a row of the table in the form that the decoder needs.
type row struct {
	known       bool
	from        Direction
	least, most uint8
}

// rows has the row of each code.
var rows = func() (rs [256]row) {
	for _, m := range table {
		least, most := m.Sizes()
		rs[m.Code] = row{true, m.From, uint8(least), uint8(most)}
	}
	return rs
}()

// lengths has, for each side and code, the least length of a payload and how much more it may be. What that side
// never sends has a least length that no frame has.
var lengths = func() (ls [2][256]struct{ least, more uint8 }) {
	for code, r := range rows {
		for from := range ls {
			ls[from][code].least = 255
		}
		if r.known {
			l := &ls[r.from][code]
			l.least, l.more = r.least, r.most-r.least
		}
	}
	return ls
}()
