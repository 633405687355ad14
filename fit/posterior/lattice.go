package posterior

import "math/rand/v2"

// generator is a rank-1 lattice's generating vector, found component by component (Sloan and Reztsov 2002) for
// shift-averaged errors that weigh all pairs and triples of coordinates alike, as good as can be had at every power of
// two from 32 to 4096 points at once: three noises in which 1, -1 and 2 times the components cancel bias the evidence.
var generator = [...]int{1, 873, 1095, 1051, 685, 451, 1615, 1771, 991, 1847, 1933, 763, 587, 413, 657, 1177,
	1415, 927, 1009, 1795, 1547, 965, 1399, 1843, 423, 1751, 109, 1451, 1701, 1131, 1915, 1555}

// replicates are how many lattices, each shifted by itself, a run has; their scatter gives the numerical error.
const replicates = 4

// lattice is one replicate: the points i*generator/n + shift, modulo 1, n being a power of two. Replicates differ by the shift alone,
// so that their scatter tells the numerical error. Every other point of a lattice is one of that with half the points.
type lattice struct {
	n     int
	step  []int
	shift []float64
}

func newLattice(dims, n, replicate int, seed uint64) *lattice {
	l := &lattice{n, make([]int, dims), make([]float64, dims)}
	// Shifts are random, so that they are independent (Cranley and Patterson 1976): along the multiples of one number they cancel
	// in sums of three coordinates, and all replicates share an error of which their scatter tells nothing.
	shift := rand.New(rand.NewPCG(uint64(replicate), 1976+seed))
	for j := range dims {
		l.step[j] = generator[j%len(generator)] + 2*(j/len(generator))
		l.shift[j] = shift.Float64()
	}
	return l
}

// point writes the i-th point into u, every coordinate in [0, 1).
func (l *lattice) point(i int, u []float64) {
	per := 1 / float64(l.n) // exact, of a power of two
	for j := range u {
		x := float64(i*l.step[j]&(l.n-1))*per + l.shift[j]
		if x >= 1 {
			x--
		}
		u[j] = x
	}
}
