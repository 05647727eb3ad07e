//go:build unix

package disk

import "syscall"

// atOnce keeps an open from waiting for another end, and a terminal from becoming ours.
const atOnce = syscall.O_NONBLOCK | syscall.O_NOCTTY
