package glossary

var backsolve = []Term{
	{Name: "back-solve", Also: []string{"reconcile"}, Text: "From the times back to the parts: which values, and which cause, make the circuit keep the times that were measured."},
	{Name: "group", Also: []string{"groups"}, Text: "A product or ratio of parts that the times fix with no assumption about any part, such as R2 × C1.", See: []string{"confounded"}},
	{Name: "confounded", Text: "Not to be told apart by what was measured. Resistance up and capacitance down by one factor leaves every time alone; so does a slow clock against a larger capacitor. The report says what is confounded with what, and which reading would part them.", See: []string{"next reading"}},
	{Name: "prior odds", Also: []string{"odds", "prior"},
		Text: "How likely a cause is before anything is measured, against nothing being wrong = 1. They depend on the part's class and on the board's history, and can be set under [odds] in the design file. A stated probability is these odds times how well the cause explains the times, shared out so that all add up to one.",
		See:  []string{"probability", "history"}},
	{Name: "history", Text: "What is known of the board: new (fresh from the bench, so a builder's slip is likely) or worked (it used to be right, so a part that aged is likely). It sets the prior odds.", See: []string{"prior odds"}},
	{Name: "probability", Also: []string{"posterior"}, Text: "How likely a cause is after the times and readings are counted in. Of the causes stated with 80 %, 80 of 100 are right, if the odds are right: the project checks this by simulation.", See: []string{"prior odds", "evidence"}},
	{Name: "evidence", Also: []string{"marginal likelihood"}, Text: "How well a cause explains the times, averaged over everything that the cause leaves open. A cause that could explain anything explains each thing poorly: that is what keeps flexible causes in check."},
	{Name: "estimate", Also: []string{"median"}, Text: "The median of what is believed of a part: it is as probably above as below."},
	{Name: "out of tolerance", Text: "Beyond the limits that the drawing allows a part. The probability is over all causes together."},
	{Name: "next reading", Also: []string{"reading"}, Text: "What to measure next: the reading that is expected to lower the doubt between the causes most, for the minutes that it takes.", Source: "Lindley 1956", See: []string{"bit"}},
	{Name: "tells", Also: []string{"look"}, Text: "Of a reading or a look: the share of what is open about the cause that it is expected to settle, from what each cause would show in it. A look is a reading without an instrument, of two outcomes, entered with --look.", See: []string{"next reading", "bit"}},
	{Name: "bit", Also: []string{"information", "bits"}, Text: "The measure of information: one bit halves the doubt between two equally likely causes.", Source: "Lindley 1956"},
	{Name: "direct reading", Text: "A part or a voltage measured by itself, by ohmmeter, LCR meter or voltmeter, given under [readings] or with --reading."},
	{Name: "baseline", Also: []string{"before", "since the baseline"}, Text: "An earlier result of the same board, as reconcile --json printed it, or what [was] states of it in the design. With one the question is what has moved since, not what is wrong: what both visits have in common, such as where each part lies in its tolerance, drops out."},
	{Name: "condition", Also: []string{"with"}, Text: "What was special about a capture: a known part added, another supply, a part warmed. Given by --with, it tells apart what times alone confound.", See: []string{"confounded", "next reading"}},
	{Name: "mark", Text: "A few words at an instant of a stream, such as \"cooled C1\". The step that the times take there is fitted, and a part suits where its change alone would explain the steps of both times."},
	{Name: "tolerance region", Also: []string{"plane"}, Text: "In the report's plane of high against low time: where the times may lie with every part inside its tolerance. Each cause leaves it along a line of its own, which is why the place of the measured point says which cause it is."},
}
