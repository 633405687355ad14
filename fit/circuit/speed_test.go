package circuit

import (
	"math"
	"testing"

	"offbeat/fit"
)

// byHand are the laws of the shipped wirings with one capacitor as they are written by hand, with the same terms and faults:
// what the compiled ones are measured against. Without a diode a compiled law may take twice as long, with one three times.
var byHand = map[string]func(v *Values) (high, low float64, ok bool){
	"astable":       func(v *Values) (high, low float64, ok bool) { return v.astable(v[Supply], v[0]+v[1]) },
	"astable-diode": (*Values).astableDiode,
	"astable-output": func(v *Values) (high, low float64, ok bool) {
		return v.fromOutput(v[Upper]*v[Half]*v[Supply], v[Upper]*v[Supply])
	},
	"schmitt": func(v *Values) (high, low float64, ok bool) {
		return v.fromOutput(v[Upper]*v[Half]*v[Supply], v[Upper]*v[Supply])
	},
	"monostable": (*Values).pulse,
	"comparator": func(v *Values) (high, low float64, ok bool) {
		share, middle := v[3]/(v[2]+v[3]), v[Supply]/2
		return v.fromOutput(middle+share*(v[OutputLow]-middle), middle+share*(v[Supply]-v[OutputDrop]-middle))
	},
}

// fed is the run of the capacitor through r from source; charging is the resistance from which the faults count.
func (v *Values) fed(source, r, c, charging float64) segment {
	g := 1.0
	if v[LeakRatio] != 0 {
		g += r / (v[LeakRatio] * charging)
	}
	s := segment{(source - r*v[Bias]) / g, r * (c + v[Stray]) / g}
	if contact := v[Contact] * charging; contact > 0 {
		s.tau += contact * (c + v[Stray])
	}
	return s
}

// emptied is what the discharge pin and R2 make while the switch conducts.
func (v *Values) emptied(feed, path float64) (source, ohm float64) {
	on := v[SwitchResistance] + v[WeakRatio]*path
	return (v[Supply]*on + v[SwitchVoltage]*feed) / (feed + on), path + feed*on/(feed+on)
}

func (v *Values) toAndFro(down, up float64, charge, discharge segment) (high, low float64, ok bool) {
	over := func(s segment, from, t float64) float64 { return s.target - (s.target-from)*math.Exp(-t/s.tau) }
	peak, valley := over(charge, up, v[DelayFall]), over(discharge, down, v[DelayRise])
	high = v.stretch(charge.until(valley, up) + v[DelayFall])
	low = v.stretch(discharge.until(peak, down) + v[DelayRise])
	return high, low, runs(high) && runs(low) && charge.target > up && discharge.target < down && valley < up && peak > down
}

func (v *Values) astable(source, through float64) (high, low float64, ok bool) {
	empty, path := v.emptied(v[0], v[1])
	return v.toAndFro(v[Upper]*v[Half]*v[Supply], v[Upper]*v[Supply], v.fed(source, through, v[2], through), v.fed(empty, path, v[2], through))
}

func (v *Values) astableDiode() (high, low float64, ok bool) {
	if v[Supply]-v[DiodeDrop]*(1+v[0]/v[1]) < v[Upper]*v[Supply] {
		return 0, 0, false
	}
	return v.astable(v[Supply]-v[DiodeDrop], v[0])
}

func (v *Values) fromOutput(down, up float64) (high, low float64, ok bool) {
	return v.toAndFro(down, up, v.fed(v[Supply]-v[OutputDrop], v[0], v[1], v[0]), v.fed(v[OutputLow], v[0], v[1], v[0]))
}

func (v *Values) pulse() (high, low float64, ok bool) {
	empty, path := v.emptied(v[0], 0)
	rest, charge, up := v.fed(empty, path, v[1], v[0]).target, v.fed(v[Supply], v[0], v[1], v[0]), v[Upper]*v[Supply]
	high = v.stretch(charge.until(rest, up) + v[DelayFall])
	return high, 1, runs(high) && charge.target > up && rest < up
}

// usual is a board at the terms of its family.
func usual(c *Circuit) Values {
	v := Ideal(5)
	for i, p := range c.Parts {
		if v[i] = 47e3; p.Kind == fit.Capacitor {
			v[i] = 100e-9
		}
	}
	v[SwitchVoltage], v[SwitchResistance], v[DelayFall], v[DelayRise], v[Bias], v[DiodeDrop] = 0.02, 20, 1e-6, 5e-7, 1e-7, 0.6
	return v
}

// A hand-written law that is not the compiled one would be no measure.
func TestByHand(t *testing.T) {
	for _, c := range All() {
		v := usual(c)
		hand, there := byHand[c.Name]
		if !there {
			continue
		}
		high, low, ok := c.Times(&v)
		h, l, fine := hand(&v)
		if !ok || !fine || !(math.Abs(h/high-1) <= 1e-9) || !(math.Abs(l/low-1) <= 1e-9) {
			t.Errorf("%s: by hand %v %v %v, compiled %v %v %v", c.Name, h, l, fine, high, low, ok)
		}
	}
}

func BenchmarkTimes(b *testing.B) {
	for _, c := range All() {
		v := usual(c)
		for way, times := range map[string]func(v *Values) (high, low float64, ok bool){"": c.Times, "/by hand": byHand[c.Name]} {
			if times == nil {
				continue
			}
			b.Run(c.Name+way, func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					times(&v)
				}
			})
		}
	}
}
