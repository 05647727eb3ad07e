package board_test

import (
	"context"
	"fmt"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/link"
)

func ExampleNewClient() {
	guest := boardtest.NewFake(boardtest.None)
	b := board.NewClient(link.Memory(guest), harness.Board{Role: "sustainer"}, boardtest.Bay(), board.Options{})
	defer b.Close()
	var r harness.Reply
	for k := range 30 {
		r.Reset()
		if err := b.Exchange(context.Background(), boardtest.Frame(k), &r); err != nil {
			fmt.Println(err)
			return
		}
		for _, o := range r.Outputs {
			fmt.Println("output", o.Channel, o.On, o.At)
		}
	}
	fmt.Println("round trips:", b.Health().RoundTrips)
	// Output:
	// output 1 true 0.200 s
	// output 1 false 0.250 s
	// round trips: 30
}
