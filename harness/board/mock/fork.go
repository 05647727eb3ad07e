package mock

// Fork gives a second, independent board in the same state, with a copy of the memory.
func (g *Guest) Fork() *Guest {
	f, dec := *g, *g.dec
	f.dec = &dec
	f.ram.mem, f.ram.send = &f.mem, &f.send
	return &f
}
