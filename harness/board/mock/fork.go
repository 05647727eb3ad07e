package mock

// Fork gives a second, independent board in the same state, with a copy of the memory.
func (g *Board) Fork() *Board {
	f, dec := *g, *g.dec
	f.dec = &dec
	f.ram.mem, f.ram.send = &f.mem, &f.send
	return &f
}
