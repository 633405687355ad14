package glossary

var circuits = []Term{
	{Name: "RC", Also: []string{"time constant", "tau"}, Text: "Resistance times capacitance, in seconds. Times alone see products and ratios of parts, never a part by itself.", See: []string{"group"}},
	{Name: "nominal", Text: "The value that the drawing gives a part; a prediction with every part at it, and the timer typical."},
	{Name: "first order", Text: "The textbook formula with an ideal timer. The nominal prediction adds the second-order terms: thresholds, saturation, delays, currents.", See: []string{"second-order term"}},
	{Name: "second-order term", Also: []string{"term"}, Text: "What a real timer adds to the formula: threshold ratios, discharge saturation and resistance, delays, bias current, diode drop, output swing. Each has a spread of its own from the makers' data sheets; offbeat predict --explain lists them.", See: []string{"family"}},
	{Name: "family", Text: "The kind of timer, bipolar or CMOS: it says which second-order terms there are and how far they spread. \"ideal\" has none."},
	{Name: "tolerance code", Also: []string{"IEC 60062", "tolerance letter"}, Text: "A letter behind a value that stands for its tolerance, and a letter inside it that stands for the decimal point: 4k7 J is 4.7 kΩ ± 5 %.", Source: "IEC 60062"},
	{Name: "preferred value", Also: []string{"E series", "IEC 60063", "E24"}, Text: "The values that parts are made in: E12, E24, E96 and so on, the number being how many there are in a decade.", Source: "IEC 60063", See: []string{"other value"}},
	{Name: "class", Also: []string{"kind", "part class"}, Text: "What a part is made of: film, C0G, ceramic, electrolytic, tantalum, resistor. It sets the prior odds that the part has moved.", See: []string{"prior odds"}},
	{Name: "control pin", Text: "The timer's pin that gives the upper threshold a voltage of its own. Loaded or driven, it moves both thresholds.", See: []string{"thresholds"}},
	{Name: "leg", Also: []string{"lift one leg", "one leg lifted"}, Text: "One lead of a part taken off the board, so that a meter reads the part and not what lies in parallel to it."},
	{Name: "trimmer", Text: "A potentiometer that is set once: its travel runs from nothing to its full value, and what is proposed is how far along it stands."},
	{Name: "retune", Text: "To bring a circuit back on target by fitting other values, with the parts as they now are."},
	{Name: "on target", Also: []string{"in target"}, Text: "The probability that, after a change, every quantity of the target lies within its limits."},
}
