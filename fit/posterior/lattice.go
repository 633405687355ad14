package posterior

import "math"

// generator is a rank-1 lattice's generating vector, found component by component (Sloan and Reztsov 2002)
// for the sum of the worst-case errors at 256, 1024 and 4096 points.
var generator = [...]int{1, 1681, 1949, 905, 799, 1739, 1993, 955, 1189, 1539, 525, 773, 865, 305, 387, 335,
	2011, 613, 747, 1865, 1775, 1419, 1853, 1785, 485, 301, 1071, 929, 223, 943, 1671, 1095}

// lattice is one replicate: the points i*generator/n + shift, modulo 1. Replicates differ by the shift alone,
// so that their scatter tells the numerical error.
type lattice struct {
	n     int
	step  []int
	shift []float64
}

func newLattice(dims, n, replicate int) *lattice {
	l := &lattice{n, make([]int, dims), make([]float64, dims)}
	for j := range dims {
		l.step[j] = generator[j%len(generator)] + 2*(j/len(generator))
		// Shifts run along a Kronecker sequence of the golden ratio, different in each coordinate.
		l.shift[j] = math.Mod(0.5/float64(n)+float64(replicate)*math.Mod(0.6180339887498949*float64(j+1), 1), 1)
	}
	return l
}

// point writes the i-th point into u, every coordinate in [0, 1).
func (l *lattice) point(i int, u []float64) {
	for j := range u {
		x := float64(i*l.step[j]%l.n)/float64(l.n) + l.shift[j]
		if x >= 1 {
			x--
		}
		u[j] = x
	}
}
