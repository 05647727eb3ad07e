package codecoverage

// Suite is what a suite of flights has executed of one program.
type Suite struct {
	Program *Program
	Flown   []Flown
	sum     Counts
	flights [][2]int // by branch and way: in how many flights it was taken
	first   [][2]int // the first of them
}

// Flown is what one flight has executed.
type Flown struct {
	Name string
	Total
}

// NewSuite begins with no flight.
func NewSuite(p *Program) *Suite {
	return &Suite{Program: p, flights: make([][2]int, len(p.Branches)), first: make([][2]int, len(p.Branches))}
}

// Add adds a flight, and gives what it has executed.
func (s *Suite) Add(name string, c *Counts) []File {
	files := s.Program.Measure(c)
	for i := range s.Program.Branches {
		fell, jumped := c.Ways(&s.Program.Branches[i])
		for way, n := range []uint64{fell, jumped} {
			if n == 0 {
				continue
			}
			if s.flights[i][way] == 0 {
				s.first[i][way] = len(s.Flown)
			}
			s.flights[i][way]++
		}
	}
	s.Flown = append(s.Flown, Flown{name, Sum(files)})
	s.sum.Add(c)
	return files
}

// Files gives what all flights have executed.
func (s *Suite) Files() []File { return s.Program.Measure(&s.sum) }

// Alone counts for each flight the ways of branches that no other has taken.
func (s *Suite) Alone() []int {
	out := make([]int, len(s.Flown))
	for i := range s.flights {
		if s.Program.Branches[i].Place.Line == 0 {
			continue
		}
		for way, n := range s.flights[i] {
			if n == 1 {
				out[s.first[i][way]]++
			}
		}
	}
	return out
}
