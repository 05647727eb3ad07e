package link_test

import (
	"errors"
	"fmt"
	"os"

	"drystage/harness/board/link"
)

func ExampleMemory() {
	l := link.Memory(echo{})
	fmt.Fprint(l, "ping")
	b := make([]byte, 16)
	n, _ := l.Read(b)
	fmt.Printf("%s\n", b[:n])
	_, err := l.Read(b)
	fmt.Println("late:", errors.Is(err, os.ErrDeadlineExceeded))
	// Output:
	// ping
	// late: true
}
