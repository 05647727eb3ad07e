// Package mock is drystage's built-in flight computer: two-stage logic that speaks the contract. The same logic
// with one known defect shows which scenario catches which accident. It has no clock, file or port of its own: it
// takes bytes and gives bytes back.
//
// It gets only what a real board would get, never the true state of a flight. Don't fly it: it exists to try
// benches, scenarios and verdicts without hardware.
//
// Its arithmetic uses no fused products and no function of package math whose last digit depends on the processor,
// so equal input gives equal output on every machine.
package mock
