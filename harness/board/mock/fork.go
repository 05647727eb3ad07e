package mock

// Fork gives a second board in the same state, memory and all. What happens to one leaves the other
// alone.
func (g *Guest) Fork() *Guest {
	f, dec := *g, *g.dec
	f.dec = &dec
	f.ram.mem, f.ram.say = &f.mem, &f.say
	return &f
}
