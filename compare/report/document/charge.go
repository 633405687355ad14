package document

import (
	"fmt"
	"math"

	"offbeat/acquire/quantity"
	"offbeat/compare"
)

// chargeLine is a charge in one line.
func chargeLine(c *compare.Charge) string {
	return fmt.Sprintf("%s: the charge of a capacitor, no pulses; time constant %s, final voltage %s", c.Source,
		quantity.PlusMinus(c.Tau.Value, c.Tau.Uncertainty, quantity.Second), quantity.PlusMinus(c.Final.Value, c.Final.Uncertainty, quantity.Volt))
}

// charge lists what one charge shows.
func charge(c *compare.Charge, i int) Section {
	s := Section{ID: fmt.Sprint("charge-", i+1), Heading: "Charge"}
	t := &Table{Caption: "± is one standard uncertainty.", Columns: []Column{{}, {Head: "fitted, standard uncertainty", Number: true}, {Head: "relative", Number: true}}}
	for _, q := range []struct {
		key, name string
		of        *compare.Measured
		unit      quantity.Unit
		letter    string
	}{
		{"tau", "time constant", &c.Tau, quantity.Second, "s"},
		{"final_voltage", "final voltage", &c.Final, quantity.Volt, "V"},
		{"start_voltage", "voltage where the fit begins", &c.Start, quantity.Volt, "V"},
	} {
		t.Rows = append(t.Rows, cells(q.name, quantity.PlusMinus(q.of.Value, q.of.Uncertainty, q.unit), quantity.Relative(q.of.Uncertainty/math.Abs(q.of.Value))))
		s.Records = append(s.Records, Record{Kind: "charge", Name: q.key, Unit: q.letter, Value: &q.of.Value, Uncertainty: &q.of.Uncertainty, Detail: c.Source})
	}
	s.table(t, Always)
	s.say(Sentence, fmt.Sprintf("One exponential run from %s on, %s, scattering by %s about it. The channel's scale and zero are not counted; the time constant is free of both. With a known resistor R its capacitance is the time constant over R, leakage left aside.",
		quantity.Format(c.Begin, quantity.Second), quantity.Plural(c.Tau.Count, "point"), quantity.Format(c.Residual, quantity.Volt)))
	return s
}
