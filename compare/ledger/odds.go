package ledger

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/acquire/quantity"
	"offbeat/compare/cause"
	"offbeat/fit"
)

// Learned is what the record of repairs says of the prior odds of boards like these.
type Learned struct {
	Schema int        `json:"schema"`
	Boards int        `json:"boards"` // whose finding is counted
	Weight float64    `json:"prior_boards"`
	Odds   []OddsRow  `json:"odds"`
	Check  []CheckRow `json:"stated_against_found"`
	Notes  []string   `json:"notes"`
}

// OddsRow is one line of [odds]: of a cause, or of one part's.
type OddsRow struct {
	Key        string      `json:"key"` // as in [odds]
	Prior      float64     `json:"prior"`
	Found      int         `json:"found"`
	Value      float64     `json:"value"`                // posterior mean of the cause's share over that of nothing
	Interval95 *[2]float64 `json:"interval95,omitempty"` // nil where prior and finds are too few for one
	Each       float64     `json:"explanations"`         // that share the key, each of which gets the odds
	Weight     float64     `json:"prior_boards"`         // what the prior counts as, for all of them
}

// CheckRow compares stated probabilities with what was found, over the causes that were stated with a probability in a
// range.
type CheckRow struct {
	From     float64    `json:"from"`
	To       float64    `json:"to"`
	Stated   int        `json:"stated"` // causes
	Mean     float64    `json:"mean_probability"`
	Found    int        `json:"found"` // how many of them were the one found
	Share    float64    `json:"found_share"`
	Interval [2]float64 `json:"found_interval95"` // Clopper and Pearson 1934
}

// bins of stated probabilities.
var bins = []float64{0, 0.01, 0.1, 0.3, 0.5, 0.7, 0.9, 1}

// Learn turns the record of repairs into odds. The design's own odds count as weight boards that were seen before, shared
// out among its causes: a Dirichlet prior, whose posterior after the counts is again one (Gelman et al., Bayesian Data
// Analysis 3rd ed. 3.4). A cause's odds against nothing are then a ratio of two gamma variates.
//
// The findings are the oldest first; known is the result with a key, nil where there is none.
func Learn(d *fit.Design, weight float64, found []Found, known func(key string) (*Visit, error)) (*Learned, error) {
	rows, index, err := priors(d, weight)
	if err != nil {
		return nil, err
	}
	l := &Learned{Schema: 1, Weight: weight, Odds: rows}
	table := newChecks()
	seen := map[[2]string]int{}
	for _, f := range found { // the latest finding of a board counts
		seen[[2]string{f.Lot, f.Board}]++
	}
	nothing := 0
	for _, f := range found {
		id := [2]string{f.Lot, f.Board}
		if seen[id]--; seen[id] > 0 {
			continue
		}
		l.Boards++
		if f.Cause == cause.Nothing {
			nothing++
		} else if i, ok := index[oddsKey(f.Cause, f.Parts())]; ok {
			l.Odds[i].Found++
		} else {
			l.Notes = append(l.Notes, fmt.Sprintf("%s: %s is no cause of this design; it is not counted", f.Board, strings.TrimSpace(f.Cause+" "+f.Part)))
			l.Boards--
		}
		if f.Visit == "" {
			continue
		}
		v, err := known(f.Visit)
		if err != nil {
			return nil, err
		}
		if v != nil {
			table.add(v, f)
		}
	}
	base := weight
	for _, r := range l.Odds {
		base -= r.Weight
	}
	for i := range l.Odds {
		l.Odds[i].settle(base + float64(nothing))
	}
	l.Check = table.rows()
	l.Notes = append(l.Notes, fmt.Sprintf("the design's own odds count as %v boards; %s found nothing wrong; the odds hold for boards like those that were opened", weight, quantity.Plural(nothing, "repair")))
	return l, nil
}

// fewest is the boards, of the prior and found, below which odds have no interval: of a fiftieth of a board it would lie between nothing
// and next to nothing, and the odds themselves beyond it.
const fewest = 0.5

// settle gives the odds and their interval from the pseudo-counts of the cause and of nothing.
func (r *OddsRow) settle(nothing float64) {
	of := r.Weight + float64(r.Found)
	share := distuv.Beta{Alpha: of, Beta: nothing}
	odds := func(p float64) float64 { return p / (1 - p) / r.Each }
	r.Value = odds(of / (of + nothing))
	if of >= fewest {
		r.Interval95 = &[2]float64{odds(share.Quantile(0.025)), odds(share.Quantile(0.975))}
	}
}

// oddsKey is the line of [odds] that a cause of some parts belongs to.
func oddsKey(name string, parts []string) string {
	c := cause.Of(name, parts)
	if c.Key == "" { // as many parts no cause of that name has
		return name
	}
	if len(parts) == 1 {
		return c.Key + "." + parts[0]
	}
	return c.Key
}

// priors lists the design's causes with their share of the weight, in the order of their odds.
func priors(d *fit.Design, weight float64) ([]OddsRow, map[string]int, error) {
	b, err := cause.NewBoard(d)
	if err != nil {
		return nil, nil, err
	}
	explained := map[string]bool{}
	var rows []OddsRow
	index := map[string]int{}
	total := 1.0
	for _, c := range b.Cases() {
		if c.Cause == cause.Nothing {
			continue
		}
		key := oddsKey(c.Cause, c.Parts)
		i, ok := index[key]
		if !ok {
			i = len(rows)
			index[key] = i
			rows = append(rows, OddsRow{Key: key})
		}
		share := c.Share
		share = cmp.Or(share, 1)
		rows[i].Prior += c.Odds * share
		total += c.Odds * share
		if id := cause.Key(c.Cause, c.Parts); !explained[id] {
			explained[id] = true
			rows[i].Each++
		}
	}
	for i := range rows {
		rows[i].Weight = weight * rows[i].Prior / total
		rows[i].Prior /= rows[i].Each
	}
	rows = slices.DeleteFunc(rows, func(r OddsRow) bool { return !(r.Prior > 0) })
	slices.SortStableFunc(rows, func(a, b OddsRow) int { return cmp.Compare(b.Prior, a.Prior) })
	clear(index)
	for i, r := range rows {
		index[r.Key] = i
	}
	return rows, index, nil
}

// checks count stated causes by their probability.
type checks struct{ all []CheckRow }

func newChecks() *checks {
	c := &checks{}
	for i := range bins[1:] {
		c.all = append(c.all, CheckRow{From: bins[i], To: bins[i+1]})
	}
	return c
}

// add takes a board whose repair is known: each of its causes was right or not.
func (c *checks) add(v *Visit, f Found) {
	for _, k := range v.Causes {
		i := 0
		for i < len(c.all)-1 && k.Probability >= c.all[i].To {
			i++
		}
		r := &c.all[i]
		r.Stated++
		r.Mean += k.Probability
		parts := f.Parts()
		if k.Cause == f.Cause && (len(parts) == 0 || slices.Equal(slices.Sorted(slices.Values(parts)), slices.Sorted(slices.Values(k.Parts)))) {
			r.Found++
		}
	}
}

func (c *checks) rows() []CheckRow {
	var out []CheckRow
	for _, r := range c.all {
		if r.Stated == 0 {
			continue
		}
		n, k := float64(r.Stated), float64(r.Found)
		r.Mean /= n
		r.Share = k / n
		r.Interval = [2]float64{0, 1}
		if k > 0 {
			r.Interval[0] = distuv.Beta{Alpha: k, Beta: n - k + 1}.Quantile(0.025)
		}
		if k < n {
			r.Interval[1] = distuv.Beta{Alpha: k + 1, Beta: n - k}.Quantile(0.975)
		}
		out = append(out, r)
	}
	return out
}
