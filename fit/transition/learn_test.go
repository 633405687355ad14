package transition

import (
	"math"
	"math/rand/v2"
	"testing"
)

// wave samples a square wave of -5 and 5 whose rises and falls have a form each, value 0 to 1 against samples from the crossing, with the
// crossings where they truly are; pulses are so many samples long and a part of one.
func wave(n int, length float64, rise, fall func(x float64) float64, noise float64) (v, at []float64) {
	rnd := rand.New(rand.NewPCG(7, 1))
	for x := length * 0.7; x < float64(n)+length; x += length + rnd.Float64() {
		at = append(at, x)
	}
	v = make([]float64, n)
	k := 0
	for i := range v {
		for k < len(at) && at[k]-length*0.45 < float64(i) {
			k++
		}
		y := 0.0
		if k > 0 {
			if y = rise(float64(i) - at[k-1]); k%2 == 0 {
				y = 1 - fall(float64(i)-at[k-1])
			}
		}
		v[i] = 10*y - 5 + noise*rnd.NormFloat64()
	}
	return v, at
}

func rampOf(length float64) func(x float64) float64 {
	return func(x float64) float64 { return min(max(0.5+x/length, 0), 1) }
}

func lagOf(tau float64) func(x float64) float64 {
	return func(x float64) float64 { return 1 - math.Exp(-max(x/tau+math.Ln2, 0)) }
}

// learnFrom looks for the form of edges, and refines them all.
func learnFrom(v []float64, noise float64) (r *Refiner, out []Edge) {
	edges := finder(0, 3, 10).Scan(0, nil, v, nil)
	if r = Learn(0, nil, v, edges, -5, 5, noise, false); r == nil {
		return nil, nil
	}
	return r, r.Flush(r.Take(0, nil, v, edges, nil))
}

// Forms are learnt with their scale, of each polarity by itself, where samples lie on the slope: 0.6 of the amplitude between two at most,
// a ramp of 1.6 samples; and where the window holds no more samples than are kept.
func TestWhatIsLearnt(t *testing.T) {
	steep := rampOf(0.5)
	for _, c := range []struct {
		name       string
		n          int
		length     float64
		rise, fall func(x float64) float64
		want       [2]string  // form of falls and of rises
		scale      [2]float64 // samples
	}{
		{"lags that rise, steep falls", 4000, 60, lagOf(4), steep, [2]string{"", "first-order lag"}, [2]float64{0, 4}},
		{"steep rises, lags that fall", 4000, 60, steep, lagOf(3), [2]string{"first-order lag", ""}, [2]float64{3, 0}},
		{"ramps of two lengths", 4000, 60, rampOf(7), rampOf(5), [2]string{"ramp", "ramp"}, [2]float64{5, 7}},
		{"ramps of 1.8 samples", 4000, 60, rampOf(1.8), rampOf(1.8), [2]string{"ramp", "ramp"}, [2]float64{1.8, 1.8}},
		{"ramps of 1.4 samples", 4000, 60, rampOf(1.4), rampOf(1.4), [2]string{}, [2]float64{}},
		{"ramps of 3000 samples", 120_000, 20_000, rampOf(3000), rampOf(3000), [2]string{"ramp", "ramp"}, [2]float64{3000, 3000}},
		{"ramps of 4000 samples", 120_000, 20_000, rampOf(4000), rampOf(4000), [2]string{}, [2]float64{}},
		{"pulses as short as their edges", 4000, 17.3, lagOf(1.8), lagOf(1.8), [2]string{"first-order lag", "first-order lag"}, [2]float64{1.8, 1.8}},
		{"ramps that nearly touch", 4000, 8, rampOf(6), rampOf(6), [2]string{"ramp", "ramp"}, [2]float64{6, 6}},
		{"two of each", 270, 60, rampOf(6), rampOf(6), [2]string{"ramp", "ramp"}, [2]float64{6, 6}},
		{"one of each", 150, 60, rampOf(6), rampOf(6), [2]string{}, [2]float64{}},
		{"lags by a hundredth of the amplitude another form", 4000, 60, func(x float64) float64 { return lagOf(4)(x) + 0.02*math.Exp(-(x-3)*(x-3)/8) }, steep, [2]string{"", "first-order lag"}, [2]float64{0, 3.85}},
		{"lags by more", 4000, 60, func(x float64) float64 { return lagOf(4)(x) + 0.2*math.Exp(-(x-3)*(x-3)/8) }, steep, [2]string{}, [2]float64{}},
	} {
		v, at := wave(c.n, c.length, c.rise, c.fall, 0)
		r, out := learnFrom(v, 0.01)
		if r == nil {
			if c.want != [2]string{} {
				t.Errorf("%s: nothing is learnt", c.name)
			}
			continue
		}
		for k, f := range r.forms {
			if f == nil {
				if c.want[k] != "" {
					t.Errorf("%s: nothing of polarity %d", c.name, k)
				}
			} else if f.name != c.want[k] || !(math.Abs(f.scale/c.scale[k]-1) <= 0.03) {
				t.Errorf("%s: polarity %d is a %s of %.3f samples, want %s of %g", c.name, k, f.name, f.scale, c.want[k], c.scale[k])
			}
		}
		for i, e := range out {
			if f := r.forms[Polarity(e.Rise)]; f != nil && i > 0 && i < len(out)-1 && !(math.Abs(e.X-at[i]) <= 0.025*f.scale) {
				t.Errorf("%s: edge %d at %.4f, want %.4f", c.name, i, e.X, at[i])
				break
			}
		}
	}
}

// Windows of more samples than are looked at one by one hold means of some: crossings and noise are as with all of them.
func TestSlowEdgesInGroups(t *testing.T) {
	const rise, noise = 900.0, 0.004
	v, at := wave(200_000, 4300, rampOf(rise), rampOf(rise), noise)
	r, out := learnFrom(v, noise)
	if r == nil {
		t.Fatal("nothing is learnt")
	}
	square, n := 0.0, 0.0
	for i, e := range out[1 : len(out)-1] {
		square, n = square+(e.X-at[i+1])*(e.X-at[i+1]), n+1
	}
	bound := noise / 10 * math.Sqrt(rise) // σ over the slope, of all samples on it
	if rms := math.Sqrt(square / n); rms > 1.4*bound {
		t.Errorf("crossings scatter by %.3f, the bound is %.3f", rms, bound)
	}
	for _, up := range []bool{false, true} {
		s, _ := r.Summary(up)
		if !(math.Abs(math.Sqrt(s.Noise)/(noise/10)-1) <= 0.03) || !(math.Abs(1/math.Sqrt(s.Info)/math.Sqrt(rise)-1) <= 0.03) {
			t.Errorf("rise %v: noise %.5f, want %.5f; scatter for unit noise %.2f, want %.2f", up, math.Sqrt(s.Noise), noise/10, 1/math.Sqrt(s.Info), math.Sqrt(rise))
		}
	}
}

// The scale is found from three times it and from a third of it.
func TestScaleIsFound(t *testing.T) {
	for _, p := range profiles {
		for _, off := range []float64{0.35, 0.7, 1.6, 2.8} {
			const scale = 5.0
			var w []window
			for k := range 4 {
				var one window
				for i := range 60 {
					x := float64(i) - 20 + 0.23*float64(k)
					y, _ := p.at((x - 0.4) / scale)
					one.x, one.y, one.n = append(one.x, x), append(one.y, y), append(one.n, 1)
				}
				w = append(w, one)
			}
			f := form{profile: p, scale: scale * off, cell: 1}
			if r, ok := f.fit(w); ok && !(math.Abs(r.scale/scale-1) <= 1e-3) && r.square < 1e-3 || off > 0.5 && off < 2 && !ok {
				t.Errorf("%s from %g: scale %.4f, want %g; square %.3g, %v", p.name, scale*off, r.scale, scale, r.square, ok)
			}
		}
	}
}

// Samples count to a level within four standard deviations of their noise, or three hundredths of the amplitude; others are of a pulse
// that is none. An edge that the record cuts stays as it was interpolated.
func TestLevelsAndCutEdges(t *testing.T) {
	v, _ := wave(6000, 60, lagOf(2), lagOf(2), 0)
	for i := 25; i < len(v); i += 30 {
		v[i] += 0.7
		v[i-4] += 0.2
	}
	var off [2]float64
	for i, noise := range []float64{0.01, 0.2} {
		r, _ := learnFrom(v, noise)
		if r == nil {
			t.Fatal("nothing is learnt")
		}
		low, high, n := r.Plateaus()
		off[i] = (low + high) / 2
		if !(math.Abs(low+5-off[i]) <= 0.01) || !(math.Abs(high-5-off[i]) <= 0.01) || n[0] < 1000 || n[1] < 1000 {
			t.Errorf("noise %g: levels %.4f and %.4f of %v samples", noise, low, high, n)
		}
	}
	if !(math.Abs(off[0]/off[1]-0.2/0.9) <= 0.06) || off[0] < 0.002 {
		t.Errorf("levels are off by %.4f where samples up to 0.3 away count, by %.4f where those up to 0.8 do", off[0], off[1])
	}
	// A form by twice as much as two hundredths of the amplitude another is believed where the noise is as large.
	odd := func(x float64) float64 { return lagOf(4)(x) + 0.2*math.Exp(-(x-3)*(x-3)/8) }
	w, _ := wave(4000, 60, odd, rampOf(0.5), 0)
	if r, _ := learnFrom(w, 0.9); r == nil {
		t.Error("beside noise of 0.9 the form is not believed")
	}
	v, at := wave(6000, 60, lagOf(6), lagOf(6), 0)
	cut := int(at[0]) - 3
	short := v[cut:]
	_, out := learnFrom(short, 0.01)
	plain := finder(0, 3, 10).Scan(0, nil, short, nil)
	if len(out) == 0 || len(plain) != len(out) || out[0].X != plain[0].X || out[1].X == plain[1].X {
		t.Errorf("first edge at %.5f, interpolated %.5f", out[0].X, plain[0].X)
	}
}

// Either plateau has as many samples taken, eight for each on the slope, whichever edges are slow and however far apart the rows are.
func TestPlateausBesideOneSlope(t *testing.T) {
	for k, shapes := range [2][2]func(float64) float64{{lagOf(8), rampOf(0.5)}, {rampOf(0.5), lagOf(8)}} {
		v, at := wave(60_000, 300, shapes[0], shapes[1], 0)
		for _, step := range []float64{0.25, 1, 20} {
			times := make([]float64, len(v))
			for i := range times {
				times[i] = step * float64(i)
			}
			edges := finder(0, 3, 10).Scan(0, times, v, nil)
			r := Learn(0, times, v, edges, -5, 5, 0.01, false)
			if r == nil {
				t.Fatal("nothing is learnt")
			}
			r.Flush(r.Take(0, times, v, edges, nil))
			_, _, n := r.Plateaus()
			for level, n := range n {
				if each := float64(n) / float64(len(at)/2-1); !(math.Abs(each-66) <= 12) {
					t.Errorf("slow edge %d, rows %g apart: %.1f samples of level %d", k, step, each, level)
				}
			}
		}
	}
}

// The window to look in at first, by hand: edges over which a share s of the amplitude is gained in a row are 1/s rows long, and the window
// begins one and a half of those and two rows before the crossing, and ends three and two rows after it.
func TestFirstGuess(t *testing.T) {
	var e []Edge
	for i := range 8 {
		e = append(e, Edge{X: float64(i), Cell: 0.3, Slope: 0.05, Rise: i%2 == 0}, Edge{Cell: 9, Slope: 0.2, Rise: i%2 == 0, Break: true})
	}
	for _, rise := range []bool{false, true} {
		f := guess(e, rise)
		if f == nil {
			t.Fatal("none")
		}
		length := 0.3 * 20
		for _, c := range [][2]float64{{f.cell, 0.3}, {f.scale, length}, {f.before, 1.5*length + 0.6}, {f.after, 3*length + 0.6}} {
			if !(math.Abs(c[0]/c[1]-1) <= 0.02) {
				t.Errorf("%+v: %v", f, c)
			}
		}
	}
	if f := guess(e[:3], true); f != nil {
		t.Errorf("of one edge: %+v", f)
	}
}

// A window may begin up to two rows before the samples do, never more; it holds four points at least, less the crossing's time, as shares of
// the way from one level to the other.
func TestWindowAtTheStart(t *testing.T) {
	v := []float64{-5, -4, -2, 0, 2, 4, 5, 5, 5, 5}
	times := make([]float64, len(v))
	for i := range times {
		times[i] = 7 + 0.5*float64(i)
	}
	b := span{t: times, v: v}
	e := Edge{X: 8.5, Cell: 0.5, Rise: true}
	for _, c := range []struct {
		lo, hi float64
		points int
	}{{7.9, 10, 4}, {7.5, 10, 5}, {6.1, 10, 6}, {6.01, 11, 8}, {5.9, 10, 0}, {7.9, 9.5, 0}} {
		var w window
		if ok := b.window(&w, e, c.lo, c.hi, -5, 5); ok != (c.points > 0) || ok && len(w.x) != c.points {
			t.Errorf("from %g to %g: %v, %d points", c.lo, c.hi, ok, len(w.x))
		} else if last := len(w.x) - 1; ok && (w.x[last] != times[b.row(c.hi)-1]-8.5 || w.y[0] != (v[b.row(c.lo)]+5)/10) {
			t.Errorf("from %g to %g: %+v", c.lo, c.hi, w)
		}
	}
}

// Windows to learn from are of one polarity, lie between the middles of the pulses beside, and are no more than tell enough: 64, or 16 of
// 512 points. Samples of a plateau are eight for each on a slope, 32 at least.
func TestWindowsToLearnFrom(t *testing.T) {
	for _, c := range []struct {
		n               int
		length, lag     float64
		least, most     int
		plateau, around float64
	}{{20_000, 60, 2, 50, 90, 40, 12}, {80_000, 300, 8, 50, 80, 66, 10}, {200_000, 3000, 60, 14, 20, 540, 60}} {
		v, at := wave(c.n, c.length, lagOf(c.lag), lagOf(c.lag), 0)
		edges := finder(0, 3, 10).Scan(0, nil, v, nil)
		r := Learn(0, nil, v, edges, -5, 5, 0.01, false)
		if r == nil {
			t.Fatal("nothing is learnt")
		}
		b := span{v: v}
		for _, rise := range []bool{false, true} {
			f := *r.forms[Polarity(rise)]
			r.forms[Polarity(rise)] = guess(edges, rise)
			w := r.windows(&b, edges, rise)
			if len(w) < c.least || len(w) > c.most {
				t.Errorf("lags of %g: %d windows", c.lag, len(w))
			}
			for _, one := range w {
				last := len(one.x) - 1
				if one.y[0] > 0.1 || one.y[last] < 0.9 || one.x[0] < -c.length/2-1 || one.x[last] > c.length/2+1 {
					t.Fatalf("lags of %g: a window from %.1f (%.2f) to %.1f (%.2f)", c.lag, one.x[0], one.y[0], one.x[last], one.y[last])
				}
			}
			*r.forms[Polarity(rise)] = f
		}
		r.Flush(r.Take(0, nil, v, edges, nil))
		_, _, n := r.Plateaus()
		if each := float64(n[0]+n[1]) / float64(len(at)-2); !(math.Abs(each-c.plateau) <= c.around) {
			t.Errorf("lags of %g: %.1f samples of a plateau", c.lag, each)
		}
	}
	// The same slope at four samples a unit of time has as many samples: too many.
	v, _ := wave(120_000, 20_000, rampOf(4000), rampOf(4000), 0)
	times := make([]float64, len(v))
	for i := range times {
		times[i] = float64(i) / 4
	}
	if r := Learn(0, times, v, finder(0, 3, 10).Scan(0, times, v, nil), -5, 5, 0.01, false); r != nil {
		t.Error("slopes of 4000 samples are learnt")
	}
}
