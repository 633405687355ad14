package store

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/ledger"
	"offbeat/fit"
)

// The design's odds, 1 : 0.4 : 0.4 : 0.4, as 22 boards are pseudo-counts of 10, 4, 4 and 4. Three boards with C1 and one
// with nothing make 11 and 7: odds of 7/11. The interval is that of a ratio of gamma variates, by simulation. The latest
// finding of a board counts.
func TestLearn(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		ctx := context.Background()
		s := open(t, where)
		d := &fit.Design{Circuit: "astable", Family: fit.Ideal, Supply: fit.Reading{Name: "supply", Value: 5}, History: fit.New,
			Parts: []fit.Part{{Name: "R1", Nominal: 10e3, Minus: 0.01, Plus: 0.01}, {Name: "R2", Nominal: 47e3, Minus: 0.01, Plus: 0.01}, {Name: "C1", Kind: fit.Capacitor, Nominal: 1e-7, Minus: 0.1, Plus: 0.1}},
			Odds:  map[string]float64{"shifted": 0.4}}
		for _, c := range cause.All() {
			if c.Key != "" && c.Key != "shifted" {
				d.Odds[c.Key] = 0
			}
		}
		for i, name := range []string{"shifted", "shifted", "shifted", "nothing", "shifted"} {
			v := visit(fmt.Sprint("lamp ", i%4), "quay", i)
			v.Causes = []compare.Cause{{Cause: "shifted", Parts: []string{"C1"}, Probability: 0.8}, {Cause: "nothing", Parts: []string{}, Probability: 0.2}}
			v = record(t, s, v)
			part := "C1"
			if name == "nothing" {
				part = ""
			}
			if i == 0 {
				name, part = "shifted", "R1" // lamp 0 is found again below
			}
			if err := s.Find(ctx, &ledger.Found{Board: v.Board, Lot: v.Lot, Cause: name, Part: part, At: epoch.Add(time.Duration(i) * time.Hour), Visit: v.Key}); err != nil {
				t.Fatal(err)
			}
		}
		l, err := s.Learn(ctx, d, 22)
		if err != nil {
			t.Fatal(err)
		}
		if l.Boards != 4 || len(l.Odds) != 3 {
			t.Fatalf("%+v", l)
		}
		for _, r := range l.Odds {
			want, count := 4./11, 0
			if r.Key == "shifted.C1" {
				want, count = 7./11, 3
			}
			if !(math.Abs(r.Value-want) <= 1e-9) || r.Found != count || !(math.Abs(r.Prior-0.4) <= 1e-12) {
				t.Errorf("%+v, want %v", r, want)
			}
			inside := 0
			random := rand.NewPCG(19, 31)
			a, b := distuv.Gamma{Alpha: 4 + float64(count), Beta: 1, Src: random}, distuv.Gamma{Alpha: 11, Beta: 1, Src: random}
			const draws = 20000
			for range draws {
				if x := a.Rand() / b.Rand(); x >= r.Interval95[0] && x <= r.Interval95[1] {
					inside++
				}
			}
			if share := float64(inside) / draws; !(math.Abs(share-0.95) <= 5*math.Sqrt(0.95*0.05/draws)) {
				t.Errorf("%s: the interval holds %v", r.Key, share)
			}
		}
		// Odds that count as a hundredth of a board have no interval: it would lie below them.
		if few, err := ledger.Learn(d, 0.01, nil, nil); err != nil || slices.ContainsFunc(few.Odds, func(r ledger.OddsRow) bool { return r.Interval95 != nil }) {
			t.Errorf("%+v %v", few, err)
		}
		stated, found := 0, 0
		for _, c := range l.Check {
			stated, found = stated+c.Stated, found+c.Found
			if c.From == 0.7 && (c.Stated != 4 || c.Found != 3 || !(math.Abs(c.Mean-0.8) <= 1e-9) || c.Interval[0] > 0.75 || c.Interval[1] < 0.8) {
				t.Errorf("%+v", c)
			}
		}
		if stated != 8 || found != 4 {
			t.Errorf("%d stated, %d found", stated, found)
		}
	})
}
