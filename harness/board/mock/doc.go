// Package mock is the flight computer that comes with drystage: honest two-stage logic behind the
// bytes of the contract, and the same logic with one known defect, to show which scenario catches
// which accident. It has no clock, file or port of its own: it takes bytes and gives bytes back.
//
// It never sees the truth of a flight, only what a real board would be sent, and it is no firmware
// to fly: it exists so that a bench, its scenarios and its verdicts can be tried without hardware.
//
// Its arithmetic uses no fused products and no function of the math package whose last digit
// depends on the processor, so equal bytes in give equal bytes out on every machine.
package mock
