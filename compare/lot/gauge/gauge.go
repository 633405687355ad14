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
const Method = "two-way random effects, analysis of variance by Henderson's method 3, fitting constants (Henderson 1953; Searle, Casella and McCulloch 1992 ch. 5)"

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
	n, a, b, s      float64 // observations, boards, stations, filled cells
	t0, ta, tb, tab float64
	k1, k3, k4      float64
	shared          bool // some board was measured on two stations

	// Stations with the boards' means taken out: what they explain beside the boards, the degrees of freedom that takes, the
	// trace of their normal matrix, and of the interaction's beside both.
	explained, rank, trace, beside float64
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
	for _, o := range obs {
		v := o.Value - mean
		boards.add(o.Board, v)
		stations.add(o.Station, v)
		cells.add([2]string{o.Board, o.Station}, v)
		q.t0 += v * v
	}
	q.n, q.a, q.b, q.s = float64(len(obs)), float64(len(boards.keys)), float64(len(stations.keys)), float64(len(cells.keys))
	q.ta, q.tb, q.tab = boards.squares(), stations.squares(), cells.squares()
	q.k1 = boards.counts(q.n)
	for i, key := range cells.keys {
		c, board := cells.count[i], boards.counted(key[0])
		q.k3 += c * c / board
		q.k4 += c * c / stations.counted(key[1])
		q.shared = q.shared || c < board
	}
	q.fit(&boards, &stations, &cells)
	return q
}

// fit explains by stations what the boards' means leave.
func (q *sums) fit(boards, stations *groups[string], cells *groups[[2]string]) {
	p := len(stations.keys)
	if p == 0 {
		return
	}
	normal, right := mat.NewSymDense(p, nil), make([]float64, p)
	share := make(map[string][]float64, len(boards.keys)) // of a board's observations, by station
	for i, key := range cells.keys {
		if share[key[0]] == nil {
			share[key[0]] = make([]float64, p)
		}
		s := stations.index[key[1]]
		share[key[0]][s] = cells.count[i] / boards.counted(key[0])
		right[s] += cells.sum[i]
		normal.SetSym(s, s, normal.At(s, s)+cells.count[i])
	}
	for i, key := range boards.keys {
		m := share[key]
		for s := range p {
			right[s] -= m[s] * boards.sum[i]
			for t := range s + 1 {
				if v := m[s] * m[t] * boards.count[i]; v != 0 {
					normal.SetSym(s, t, normal.At(s, t)-v)
				}
			}
		}
	}
	if q.trace = mat.Trace(normal); !(q.trace > 0) {
		return
	}
	inverse, _, rank := pseudo(normal)
	q.rank = rank
	b := mat.NewVecDense(p, right)
	q.explained = mat.Inner(b, inverse, b)
	for i, key := range cells.keys {
		c, m := cells.count[i], share[key[0]]
		x := mat.NewVecDense(p, nil)
		for s := range p {
			x.SetVec(s, -m[s])
		}
		s := stations.index[key[1]]
		x.SetVec(s, 1-m[s])
		q.beside += c - c*c/boards.counted(key[0]) - c*c*mat.Inner(x, inverse, x)
	}
}

// components are variances: boards, stations, interaction, repetition.
type components struct{ board, station, interaction, repeat float64 }

// additive is what boards and stations leave, and its degrees of freedom.
func (q sums) additive() (rest, freedom float64) {
	return q.t0 - q.ta - q.explained, q.n - q.a - q.rank
}

// full knows the interaction; sums of squares of what each adds to the others, set to their expectations in turn.
func (q sums) full() components {
	rest, freedom := q.additive()
	c := components{repeat: (q.t0 - q.tab) / (q.n - q.s)}
	if q.beside > tiny*q.n {
		c.interaction = (rest - (q.t0 - q.tab) - (freedom-(q.n-q.s))*c.repeat) / q.beside
	}
	return q.others(c)
}

// pooled leaves the interaction out, so that what it adds joins the repetition.
func (q sums) pooled() components {
	rest, freedom := q.additive()
	return q.others(components{repeat: rest / freedom})
}

// others are the components of stations and boards, once those of interaction and repetition are known.
func (q sums) others(c components) components {
	rest, _ := q.additive()
	c.station = (q.explained - (q.n-q.k3-q.beside)*c.interaction - q.rank*c.repeat) / q.trace
	c.board = (q.t0 - q.tb - rest - (q.n-q.k4-q.beside)*c.interaction - (q.a+q.rank-q.b)*c.repeat) / (q.n - q.k4)
	return c
}

// oneWay knows boards and repetition alone.
func (q sums) oneWay() components {
	repeat := (q.t0 - q.ta) / (q.n - q.a)
	c := components{math.NaN(), math.NaN(), math.NaN(), repeat}
	if q.a > 1 {
		c.board = (q.ta - (q.a-1)*repeat) / (q.n - q.k1)
	}
	return c
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
	_, freedom := q.additive()
	if !q.shared || q.rank == 0 || freedom < 1 {
		s.Notes = append(s.Notes, "no board was measured on two stations: their difference can't be told from that of the boards")
		return q.oneWay(), q.n - q.a
	}
	if q.rank < q.b-1 {
		s.Notes = append(s.Notes, "boards and stations are not linked well enough to tell them all apart")
	}
	if q.n > q.s {
		if c := q.full(); c.interaction > 0 {
			return c, q.n - q.s
		}
		s.Notes = append(s.Notes, "no interaction of boards and stations shows: pooled with the repetition")
	} else {
		s.Notes = append(s.Notes, "no board was measured twice on one station: an interaction can't be told from the repetition")
	}
	return q.pooled(), freedom
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
