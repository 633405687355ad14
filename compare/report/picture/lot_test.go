package picture

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"offbeat/acquire/quantity"
)

// Each board is drawn once, by its verdict; one far from the others is named at the rim and does not flatten them.
func TestStrip(t *testing.T) {
	k := Boards{Name: "frequency", Unit: quantity.Hertz, Limits: [2]float64{97, 103}}
	for i := range 30 {
		k.Names, k.Values, k.Verdicts = append(k.Names, fmt.Sprint("board ", i)), append(k.Values, 100+math.Sin(float64(i))), append(k.Verdicts, "pass")
	}
	k.Values[7], k.Verdicts[7] = 1000, "fail"
	k.Values[8], k.Verdicts[8] = 104, "fail"
	k.Verdicts[9] = "undecided"
	p := Strip("p", k)
	ok := p.SVG != ""
	if !ok {
		t.Fatal("no picture")
	}
	wellFormed(t, p)
	dots, arrows, crosses, rings := strings.Count(p.SVG, "h0"), strings.Count(p.SVG, `class="mark"`), strings.Count(p.SVG, `class="thin"`), strings.Count(p.SVG, `class="open"`)
	if dots != 27 || arrows != 1 || crosses != 2 || rings != 1 {
		t.Errorf("%d dots, %d arrows, %d strokes of crosses, %d rings", dots, arrows, crosses, rings)
	}
	for _, want := range []string{"board 7<", "board 8<", "27 pass"} {
		if !strings.Contains(p.SVG, want) {
			t.Errorf("the picture lacks %q", want)
		}
	}
	if y := numbers(t, p.SVG, "limit", "y1"); len(y) != 2 || y[0]-y[1] < 80 {
		t.Errorf("the limits lie at %v", y)
	}
	k.Names, k.Values, k.Verdicts = k.Names[:1], k.Values[:1], k.Verdicts[:1]
	if Strip("p", k).SVG != "" {
		t.Error("one board was given a strip")
	}
}

// The limits' values stand beside their lines, and the farthest signals are named.
func TestControlChartSaysItsLimits(t *testing.T) {
	k := Control{Unit: quantity.Hertz, Centre: 100}
	for i := range 20 {
		k.Points, k.Low, k.High, k.Labels = append(k.Points, 100+0.1*math.Cos(float64(i))), append(k.Low, 99.1), append(k.High, 100.9), append(k.Labels, fmt.Sprint("lamp ", i))
	}
	k.Points[12] = 103
	k.Signals = []int{3, 4, 5, 6, 12}
	p := ControlChart("p", "Frequency, individuals", "Solid lines are the control limits, dash-dotted the centre.", k)
	wellFormed(t, p)
	for _, want := range []string{">99.10<", ">100.90<", ">100.00<", ">lamp 12<"} {
		if !strings.Contains(p.SVG, want) {
			t.Errorf("the chart lacks %q", want)
		}
	}
}

// The highest bar sets the histogram's scale, however sharp the normal curve is.
func TestHistogramIsScaledByItsBars(t *testing.T) {
	var v []float64
	for i := range 40 {
		v = append(v, float64(i%10))
	}
	p := Histogram("p", "Values", "How many boards have which value, and the curve of their normal distribution.", "value", quantity.Hertz, v, 4.5, 0.01, math.Inf(-1), math.Inf(1))
	wellFormed(t, p)
	if y := numbers(t, p.SVG, "bar", "y"); len(y) == 0 || slices.Min(y) > 60 {
		t.Errorf("the bars begin at %v", y)
	}
}
