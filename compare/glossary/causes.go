package glossary

// causes explain what the back-solve compares; package cause has the same prior forms as code.
var causes = []Term{
	{Name: "nothing", Also: []string{"nothing wrong"}, Text: "Every part inside its tolerance, uniformly. The odds of all other causes are against this one.", See: []string{"prior odds"}},
	{Name: "shifted", Also: []string{"two_shifted"},
		Text: "One part (or two) outside its tolerance: aged, overheated, damaged or out of specification. How far beyond the limit, as a logarithm, is exponential with mean 0.25; either side is as likely.", See: []string{"class", "prior odds"}},
	{Name: "other value", Also: []string{"decade slip", "wrong value"},
		Text: "Another preferred value was fitted: one of the E24 values of the decade, or, three times as likely each, ten times too much or too little. The fitted part itself is in tolerance.", Source: "IEC 60063, IEC 60062", See: []string{"preferred value"}},
	{Name: "exchanged", Also: []string{"swapped"}, Text: "The two resistors sit in each other's place, each in its own tolerance."},
	{Name: "leakage", Also: []string{"leak", "leaking"},
		Text: "A resistance across the timing capacitor, 2.2 to 300 times the charging resistance: a dried or damp capacitor, flux, dirt. It lengthens the high time and shortens the low one."},
	{Name: "thresholds", Text: "The control pin is loaded or driven, or the timer's divider is off: its ratio to the supply lies anywhere from 0.40 to 0.90, the lower threshold at half of it. Where the capacitor's waveform is seen, either threshold may also lie by itself.", See: []string{"control pin"}},
	{Name: "discharge", Also: []string{"weak switch", "weak discharge switch", "discharge switch"},
		Text: "The timer's discharge switch no longer pulls to ground: a resistance from a hundredth of R2 to R2 stands in it. It lengthens the low time alone."},
	{Name: "clock", Text: "The instrument's time base is wrong by more than its class allows: a factor whose logarithm is normal with standard deviation 0.02. It looks like another capacitance; a second instrument tells them apart.", See: []string{"instrument clock", "confounded"}},
	{Name: "unexplained", Also: []string{"none of these"}, Text: "None of the listed causes: the times are only known to lie about the prediction, each logarithm with standard deviation 1. It keeps a misfit from being forced on a part."},
}
