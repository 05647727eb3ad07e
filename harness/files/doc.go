// Package files reads the files a person writes (vehicle, motor, board, scenario) into a
// harness.Plan, or gives every problem of every file at once, each with its place. One field table
// per kind decides what is read, what is refused and what the JSON Schema says. It never flies,
// judges or writes anything.
package files
