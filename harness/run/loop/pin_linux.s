// Empty: a package with an assembly file may declare functions without a body; see timer_linux.go.
