package level

import (
	"math"
	"slices"
)

// A level between two codes of a converter is not the mean of its rounded samples where the noise is below half a step: midway
// the samples go to and fro between the two codes though there is next to no noise, and their scatter looks like that of much.
// How often each code comes tells level and noise together: the level is the mean over what both may be, as likely as they make
// the counts (rounded normal samples: Widrow and Kollár, Quantization Noise, 2008, chapter 4).

const (
	leastNoise = 0.003 // steps, of the noises looked at
	mostNoise  = 1.0
	noises     = 24
	places     = 101  // of the level, over two steps
	astray     = 0.01 // odds of a sample to lie on a slope or an overshoot, and of those beside the likeliest code, of all samples
	scatters   = 0.55 // steps, of samples with so much noise that their mean is the level
	always     = 1.5  // times the variance of a place in a step, where one code alone is seen: midway that is off by half a step in every record
	asSamples  = 2000 // that neighbours are no copies of each other is believed of so many samples
)

// coded is what counts of codes say of a level: how far it lies from the mean of the samples, the standard uncertainty of that, and
// the variance of the noise.
type coded struct{ bias, left, noise float64 }

// fromCodes takes sorted samples about one level that lie on codes one quantum apart.
func fromCodes(s []float64, mean, variance, quantum float64) (c coded, ok bool) {
	if !(quantum > 0) || len(s) == 0 || variance > scatters*scatters*quantum*quantum {
		return c, false
	}
	base := s[0]
	top := int(math.Round((s[len(s)-1] - base) / quantum))
	if top > 8 {
		return c, false // so many codes are noise enough
	}
	counts := make([]float64, top+1)
	for _, x := range s {
		counts[min(max(int(math.Round((x-base)/quantum)), 0), top)]++
	}
	share := min(1, asSamples/float64(len(s)))
	at := (mean - base) / quantum // in steps from the lowest code
	var logs [noises][places]float64
	best := math.Inf(-1)
	for i := range logs {
		sigma := noiseAt(i)
		for j := range logs[i] {
			for k, n := range counts {
				logs[i][j] += share * n * math.Log(chance(float64(k), at+placeAt(j), sigma)+astray/float64(top+1))
			}
			best = math.Max(best, logs[i][j])
		}
	}
	var sum, first, second, noise float64
	for i := range logs {
		sigma := noiseAt(i)
		for j, l := range logs[i] {
			w, d := math.Exp(l-best), placeAt(j)
			sum, first, second, noise = sum+w, first+w*d, second+w*d*d, noise+w*sigma*sigma
		}
	}
	bias := first / sum
	left := math.Max(second/sum-bias*bias, 0)
	if slices.Max(counts) > (1-astray)*float64(len(s)) {
		left *= always
	}
	const grid = 2.0 / places
	return coded{bias * quantum, math.Sqrt(left+grid*grid/12) * quantum, noise / sum * quantum * quantum}, true
}

// noiseAt and placeAt are the noises, and the levels over the mean of the samples, that are looked at, in steps.
func noiseAt(i int) float64 {
	return leastNoise * math.Pow(mostNoise/leastNoise, float64(i)/(noises-1))
}
func placeAt(j int) float64 { return (float64(j)+0.5)*2/places - 1 }

// chance of code k for a level with noise, all in steps.
func chance(k, level, sigma float64) float64 {
	return 0.5 * (math.Erfc((k-0.5-level)/sigma/math.Sqrt2) - math.Erfc((k+0.5-level)/sigma/math.Sqrt2))
}
