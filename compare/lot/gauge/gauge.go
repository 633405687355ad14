// Package gauge splits the scatter of repeated measurements of several boards into what the boards, the
// stations (or operators) and the repetition contribute.
package gauge

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Method names the estimator for reports.
const Method = "two-way random effects, analysis of variance by Henderson's method 1 (Henderson 1953; Searle, Casella and McCulloch 1992 ch. 5)"

// ErrFew says that nothing was measured twice.
var ErrFew = errors.New("no board was measured twice: a gauge study needs repeat captures")

// Observation is one measured value of a board.
type Observation struct {
	Board, Station string // station, or operator
	Value          float64
}

// Study holds the standard deviations, in the unit of the values. Reproducibility and Interaction are NaN
// where the data can't tell: one station only, or no board that two stations measured.
type Study struct {
	Boards, Stations, Observations int
	Repeatability                  float64    // of one board on one station
	Interval95                     [2]float64 // of Repeatability, chi-squared
	Freedom                        int        // its degrees of freedom
	Reproducibility                float64    // between stations
	Interaction                    float64    // boards that stations see differently
	Gauge                          float64    // all three together
	BoardToBoard                   float64
	Total                          float64
	Notes                          []string // what was pooled, set to nought, or can't be told
}

// Share is the gauge's part of the tolerance: six standard deviations over its width (common practice, also 5.15).
func (s Study) Share(low, high float64) float64 { return 6 * s.Gauge / (high - low) }

// Usual limits of Share (common practice): above the first the gauge is marginal, above the second unfit.
const (
	Marginal = 0.10
	Unfit    = 0.30
)

// Warning judges a share; it is empty where the gauge is good.
func Warning(share float64) string {
	switch {
	case share > Unfit:
		return fmt.Sprintf("measuring takes %.0f %% of the tolerance, more than %.0f %%: verdicts near the limits are not safe; make captures longer or find what differs between them", 100*share, 100*Unfit)
	case share > Marginal:
		return fmt.Sprintf("measuring takes %.0f %% of the tolerance (more than %.0f %%): marginal", 100*share, 100*Marginal)
	}
	return ""
}

// sums are the uncorrected sums of squares of the values about their mean, and the counts that their
// expectations need.
type sums struct {
	n, a, b, s          float64 // observations, boards, stations, filled cells
	t0, ta, tb, tab, tm float64
	k1, k2, k3, k4, k23 float64
	shared              bool // some board was measured on two stations
}

// groups add up values by key, in the order in which the keys were met, so that a run can be repeated to the
// last bit.
type groups[K comparable] struct {
	index map[K]int
	keys  []K
	count []float64
	sum   []float64
}

func (g *groups[K]) add(key K, v float64) {
	i, ok := g.index[key]
	if !ok {
		if g.index == nil {
			g.index = map[K]int{}
		}
		i = len(g.keys)
		g.index[key] = i
		g.keys, g.count, g.sum = append(g.keys, key), append(g.count, 0), append(g.sum, 0)
	}
	g.count[i]++
	g.sum[i] += v
}

func (g *groups[K]) counted(key K) float64 { return g.count[g.index[key]] }

// squares is the sum over the groups of sum²/count.
func (g *groups[K]) squares() float64 {
	t := 0.0
	for i, n := range g.count {
		t += g.sum[i] * g.sum[i] / n
	}
	return t
}

// counts is the sum of the squared counts over n.
func (g *groups[K]) counts(n float64) float64 {
	t := 0.0
	for _, c := range g.count {
		t += c * c / n
	}
	return t
}

func gather(obs []Observation) sums {
	mean := 0.0
	for _, o := range obs {
		mean += o.Value / float64(len(obs))
	}
	var boards, stations groups[string]
	var cells groups[[2]string]
	var q sums
	total := 0.0
	for _, o := range obs {
		v := o.Value - mean
		boards.add(o.Board, v)
		stations.add(o.Station, v)
		cells.add([2]string{o.Board, o.Station}, v)
		q.t0 += v * v
		total += v
	}
	q.n, q.a, q.b, q.s = float64(len(obs)), float64(len(boards.keys)), float64(len(stations.keys)), float64(len(cells.keys))
	q.tm, q.ta, q.tb, q.tab = total*total/q.n, boards.squares(), stations.squares(), cells.squares()
	q.k1, q.k2, q.k23 = boards.counts(q.n), stations.counts(q.n), cells.counts(q.n)
	for i, key := range cells.keys {
		c, board := cells.count[i], boards.counted(key[0])
		q.k3 += c * c / board
		q.k4 += c * c / stations.counted(key[1])
		q.shared = q.shared || c < board
	}
	return q
}

// components are variances: boards, stations, interaction, repetition.
type components struct{ board, station, interaction, repeat float64 }

// full solves the expectations of all four sums of squares.
func (q sums) full() (components, bool) {
	x, ok := solve([][]float64{
		{q.n - q.k1, q.k3 - q.k2, q.k3 - q.k23, q.a - 1},
		{q.k4 - q.k1, q.n - q.k2, q.k4 - q.k23, q.b - 1},
		{q.k1 - q.k4, q.k2 - q.k3, q.n - q.k3 - q.k4 + q.k23, q.s - q.a - q.b + 1},
		{0, 0, 0, q.n - q.s},
	}, []float64{q.ta - q.tm, q.tb - q.tm, q.tab - q.ta - q.tb + q.tm, q.t0 - q.tab})
	if !ok {
		return components{}, false
	}
	return components{x[0], x[1], x[2], x[3]}, true
}

// additive leaves the interaction out, so that its sum of squares joins the repetition's.
func (q sums) additive() (components, bool) {
	x, ok := solve([][]float64{
		{q.n - q.k1, q.k3 - q.k2, q.a - 1},
		{q.k4 - q.k1, q.n - q.k2, q.b - 1},
		{q.k1 - q.k4, q.k2 - q.k3, q.n - q.a - q.b + 1},
	}, []float64{q.ta - q.tm, q.tb - q.tm, q.t0 - q.ta - q.tb + q.tm})
	if !ok {
		return components{}, false
	}
	return components{x[0], x[1], 0, x[2]}, true
}

// oneWay knows boards and repetition alone.
func (q sums) oneWay() components {
	repeat := (q.t0 - q.ta) / (q.n - q.a)
	c := components{math.NaN(), math.NaN(), math.NaN(), repeat}
	if q.a > 1 {
		c.board = (q.ta - q.tm - (q.a-1)*repeat) / (q.n - q.k1)
	}
	return c
}

func solve(m [][]float64, y []float64) ([]float64, bool) {
	n := len(y)
	a := mat.NewDense(n, n, nil)
	for i := range m {
		a.SetRow(i, m[i])
	}
	var x mat.VecDense
	if err := x.SolveVec(a, mat.NewVecDense(n, y)); err != nil {
		return nil, false
	}
	return x.RawVector().Data, true
}

// Of estimates the components. An interaction whose estimate is not positive is taken as absent and the data
// are fitted without it; another negative estimate is set to nought. Either is noted.
func Of(obs []Observation) (Study, error) {
	q := gather(obs)
	s := Study{Boards: int(q.a), Stations: int(q.b), Observations: len(obs)}
	if q.n <= q.a {
		return s, ErrFew
	}
	c, freedom := q.estimate(&s)
	s.Freedom = int(freedom)
	s.Repeatability = root(c.repeat)
	chi := distuv.ChiSquared{K: freedom}
	s.Interval95 = [2]float64{s.Repeatability * math.Sqrt(freedom/chi.Quantile(0.975)), s.Repeatability * math.Sqrt(freedom/chi.Quantile(0.025))}
	s.Reproducibility, s.Interaction = s.clip("station", c.station), s.clip("interaction", c.interaction)
	s.BoardToBoard = s.clip("board", c.board)
	s.Gauge = math.Sqrt(known(c.repeat) + known(s.Reproducibility*s.Reproducibility) + known(s.Interaction*s.Interaction))
	s.Total = math.Hypot(s.Gauge, known(s.BoardToBoard))
	return s, nil
}

// estimate picks the fullest model that the data allow, and gives the degrees of freedom of the repetition.
func (q sums) estimate(s *Study) (components, float64) {
	if q.b < 2 {
		s.Notes = append(s.Notes, "one station: its difference from others is not seen")
		return q.oneWay(), q.n - q.a
	}
	if !q.shared || q.n-q.a-q.b+1 < 1 {
		s.Notes = append(s.Notes, "no board was measured on two stations: their difference can't be told from that of the boards")
		return q.oneWay(), q.n - q.a
	}
	if q.n > q.s {
		c, ok := q.full()
		if ok && c.interaction > 0 {
			return c, q.n - q.s
		}
		s.Notes = append(s.Notes, "no interaction of boards and stations shows: pooled with the repetition")
	} else {
		s.Notes = append(s.Notes, "no board was measured twice on one station: an interaction can't be told from the repetition")
	}
	c, ok := q.additive()
	if !ok {
		s.Notes = append(s.Notes, "boards and stations are not linked well enough to tell them apart")
		return q.oneWay(), q.n - q.a
	}
	return c, q.n - q.a - q.b + 1
}

// clip is the standard deviation of a variance estimate, nought where that is negative.
func (s *Study) clip(name string, variance float64) float64 {
	if variance < 0 {
		s.Notes = append(s.Notes, "the "+name+" component came out negative and is set to nought")
	}
	return root(variance)
}

func root(variance float64) float64 { return math.Sqrt(max(variance, 0)) } // NaN stays NaN

func known(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}
