package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"offbeat/acquire/manifest"
	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/lot"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// A lot judged from its captures, from a ledger that one run filled, and from one that three shares filled, in whatever
// order they came, gives the same bytes; a run that is repeated works nothing out again. On both databases.
func TestLotFromLedger(t *testing.T) {
	ctx := context.Background()
	d := &fit.Design{Title: "Harbour lamp", Circuit: "astable", Family: fit.Ideal, History: fit.New, Supply: fit.Reading{Name: "supply", Value: 5},
		Parts: []fit.Part{{Name: "R1", Kind: fit.Resistor, Nominal: 10e3, Minus: 0.05, Plus: 0.05}, {Name: "R2", Kind: fit.Resistor, Nominal: 47e3, Minus: 0.05, Plus: 0.05},
			{Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1}},
		Targets: []fit.Target{{Quantity: "frequency", Value: 138.7, Low: 138.7 * 0.85, High: 138.7 * 1.15}}}
	r, err := ledger.NewRun(d, nil, "v1.2.3", nil)
	if err != nil {
		t.Fatal(err)
	}
	boards := func() []lot.Board {
		var entries []manifest.Entry
		for i := range 12 {
			b := captured(t, fmt.Sprint("lamp ", (i*7)%12), fmt.Sprint("bytes of ", i))
			e := b.Captures[0]
			e.Time, e.Station = epoch.Add(time.Duration(i%5)*time.Minute), fmt.Sprint("bench ", i%2)
			entries = append(entries, e)
		}
		return lot.Group(entries)
	}
	worked, judge := 0, lot.NewReconciler(d)
	work := func(station *Station) lot.Work {
		return func(_ context.Context, b *lot.Board) (*compare.Finding, []lot.Measured, error) {
			if station != nil {
				if o, err := station.Find(ctx, b); err != nil || o != nil {
					return nil, nil, errorsOr(err, &lot.Known{Outcome: o})
				}
			}
			b.Identify()
			worked++
			if b.Name == "lamp 3" {
				return nil, nil, fmt.Errorf("cut short")
			}
			random := rand.New(rand.NewPCG(19, uint64(b.Digests[0][0])<<8+uint64(b.Digests[0][1])))
			high, low, err := fittest.Integrate(fittest.Network{Circuit: fittest.Astable, Supply: 5, R1: 10e3 * math.Exp(0.01*random.NormFloat64()), R2: 47e3 * math.Exp(0.01*random.NormFloat64()), C: 100e-9 * math.Exp(0.02*random.NormFloat64())})
			if err != nil {
				return nil, nil, err
			}
			m := &fit.Measurement{Source: b.Captures[0].Capture, High: fit.Estimate{Value: high, Uncertainty: high * 1e-4, Count: 60}, Low: fit.Estimate{Value: low, Uncertainty: low * 1e-4, Count: 60}, Clock: 1e-4, Cycles: 60}
			f, err := judge.Board(ctx, b, []*fit.Measurement{m})
			return f, []lot.Measured{{Entry: &b.Captures[0], Measurement: m}}, err
		}
	}
	bytes := func(c *lot.Collector) string {
		report, err := c.Report(lot.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i := range report.Failed { // the captures' folder differs from run to run
			report.Failed[i].Error = ""
		}
		text, err := json.Marshal(report)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	through := func(station *Station, all []lot.Board) *lot.Collector {
		c := lot.NewCollector(d)
		err := lot.Run(ctx, all, work(station), lot.RunOptions{Workers: 1}, func(o *lot.Outcome) error {
			if station != nil {
				if err := station.Record(ctx, r.Visit(o)); err != nil {
					return err
				}
			}
			c.Add(o)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	want := bytes(through(nil, boards()))
	from := func(where string) string {
		s, err := Read(ctx, where)
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		c := lot.NewCollector(d)
		err = s.Each(ctx, Filter{Lot: "week 5", Current: true, Manifest: true}, func(v *ledger.Visit) error {
			o, err := v.Outcome()
			if err == nil {
				c.Add(o)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return bytes(c)
	}
	onBoth(t, func(t *testing.T, where string) {
		for _, shares := range [][]int{{0}, {2, 0, 1}} {
			if len(shares) > 1 {
				where = emptyAgain(t, where)
			}
			for _, k := range shares {
				station, err := NewStation(ctx, where, "", r)
				if err != nil {
					t.Fatal(err)
				}
				mine := slices.DeleteFunc(boards(), func(b lot.Board) bool { return b.Place%len(shares) != k })
				through(station, mine)
				station.Close()
			}
			if got := from(where); got != want {
				t.Errorf("%d shares:\n%s\nwant\n%s", len(shares), got, want)
			}
			worked = 0
			station, err := NewStation(ctx, where, "", r)
			if err != nil {
				t.Fatal(err)
			}
			if got := bytes(through(station, boards())); got != want || worked != 0 || station.Known != 12 {
				t.Errorf("repeated: %d boards were worked out again, %d known\n%s", worked, station.Known, got)
			}
			station.Close()
		}
	})
}

// What sets a board apart from the others of its lot supersedes what its own times say, and both stay; when it no longer
// stands out its own result stands again, and when it does again that one; a run that is repeated adds nothing.
func TestApartFromTheOthers(t *testing.T) {
	apart := &lot.Apart{Causes: []compare.Cause{{Cause: "shifted", Parts: []string{"R2"}, Probability: 0.9}, {Cause: "nothing", Probability: 1e-4}}}
	onBoth(t, func(t *testing.T, where string) {
		ctx, r := context.Background(), run(t, nil)
		b := captured(t, "lamp 2", "abc")
		judge := func(a *lot.Apart) {
			t.Helper()
			station, err := NewStation(ctx, where, "", r)
			if err != nil {
				t.Fatal(err)
			}
			defer station.Close()
			o, err := station.Find(ctx, b)
			if err != nil {
				t.Fatal(err)
			}
			if o == nil {
				o = &lot.Outcome{Board: b, Finding: &compare.Finding{Verdict: compare.Verdict{Result: "pass"}, Causes: []compare.Cause{{Cause: "shifted", Parts: []string{"R1"}, Probability: 0.8}}},
					Each: []lot.Measured{{Entry: &b.Captures[0], Measurement: &fit.Measurement{High: fit.Estimate{Value: 1, Uncertainty: 1e-3}}}}}
			}
			v := r.Visit(o)
			if v.Cause != "shifted" || v.CauseParts[0] != "R1" { // whatever stands, a board's own times come back
				t.Errorf("%+v", v)
			}
			if err := errors.Join(station.Record(ctx, v), station.Judged(ctx, v, a)); err != nil {
				t.Fatal(err)
			}
		}
		for i, step := range []struct {
			apart *lot.Apart
			part  string
			all   int
		}{{nil, "R1", 1}, {apart, "R2", 2}, {apart, "R2", 2}, {nil, "R1", 3}, {nil, "R1", 3}, {apart, "R2", 4}} {
			judge(step.apart)
			s, err := Read(ctx, where)
			if err != nil {
				t.Fatal(err)
			}
			now, err := s.Visits(ctx, Filter{Current: true})
			if err != nil {
				t.Fatal(err)
			}
			all, err := s.Visits(ctx, Filter{})
			if err != nil || len(now) != 1 || len(now[0].CauseParts) != 1 || now[0].CauseParts[0] != step.part || len(all) != step.all {
				t.Errorf("step %d: %v, %d results, current %+v", i, err, len(all), now)
			}
			if n, faults, err := s.Check(ctx); n != step.all || len(faults) > 0 || err != nil {
				t.Error(n, faults, err)
			}
			s.Close()
		}
	})
}

// emptyAgain is another empty ledger of the same kind.
func emptyAgain(t *testing.T, where string) string {
	if strings.HasPrefix(where, "postgres") {
		return emptySchema(t)
	}
	return filepath.Join(t.TempDir(), "again.db")
}

func errorsOr(err error, otherwise error) error {
	if err != nil {
		return err
	}
	return otherwise
}
