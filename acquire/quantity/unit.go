// Package quantity reads and prints values with their unit and tolerance: what a schematic, a part's
// marking or a meter says. It holds the only table of units and the only table of prefixes.
//
// A quantity is
//
//	value [prefix] [unit] [tolerance] [(k=2)]
//
// The value is a decimal number ("4.7", "4,7", "1e-7") or, for resistors and capacitors, an IEC 60062 code
// whose letter stands for the decimal point ("4k7", "R47", "n22", "1u0"). The tolerance follows "±", "+-",
// "+/-" or ":" and is a percentage, ppm, an absolute value in the same unit, or an IEC 60062 letter; a
// letter may also follow the value directly ("4k7 J", "100n K"). "+80/-20 %" is an asymmetric tolerance.
// "(k=2)" says that the tolerance is an expanded uncertainty with that coverage factor (JCGM 100 6.2.1),
// hence normal; without it the tolerance is a pair of limits, hence rectangular (JCGM 100 4.3.7).
//
// What is read one way by some and another way by others is an error that says how to write either:
//
//   - "100n F" (100 nF, or 100 n with the tolerance letter F?); "100nF" is 100 nF.
//   - a bare number as a capacitor, "47"; but three digits whose last is not 0 are the marking's code, two
//     figures and a power of ten in pF: "104" is 100 nF. "100" is 10 pF by the code and 100 pF on some old
//     parts, so it is refused. A bare number as a resistor is in ohms.
//   - "1,000" (a decimal comma with three digits after it).
//   - a unit on the value and none on an absolute tolerance, or the reverse: "46.93k ± 0.2".
package quantity

import "slices"

// Unit is what a quantity is measured in. Values are in the SI unit of the same name.
type Unit int

const (
	Number    Unit = iota // a ratio, 1
	Ohm                   // Ω
	Farad                 // F
	Hertz                 // Hz
	Second                // s
	Volt                  // V
	Ampere                // A
	PerKelvin             // 1/K, a temperature coefficient
	Celsius               // °C
)

// InJSON are the units by their names in the JSON's "unit".
var InJSON = map[string]Unit{"ohm": Ohm, "F": Farad, "s": Second, "Hz": Hertz, "1": Number, "V": Volt, "A": Ampere}

// InJSON is the unit's name there.
func (u Unit) InJSON() string {
	for name, v := range InJSON {
		if v == u {
			return name
		}
	}
	return ""
}

// spelling is one way to write a unit, and what it is in the SI unit as a power of ten and a factor.
type spelling struct {
	text   string
	factor float64 // times
	power  int     // ten to the power of
	prefix bool    // may follow an SI prefix
}

// units is the table of everything that differs from unit to unit.
var units = [...]struct {
	symbol      string   // as printed
	name        string   // in messages
	of          string   // what it measures
	example     string   //
	least, most int      // smallest and largest power of ten of a prefix
	shown       spelling // printed in this unit instead, whatever the size
	signed      bool     // zero and negative values have a meaning
	coded       bool     // IEC 60062 codes are read
	spellings   []spelling
}{
	Number: {name: "a ratio", of: "a ratio", example: "0.45 or 45 %", shown: spelling{text: "%", power: -2},
		spellings: []spelling{{"%", 1, -2, false}, {"ppm", 1, -6, false}}},
	Ohm: {symbol: "\u03a9", name: "ohm", of: "resistance", example: "10k, 4k7 or 470 Ω", least: -3, most: 9, coded: true,
		spellings: []spelling{{"\u03a9", 1, 0, true}, {"\u2126", 1, 0, true}, {"ohm", 1, 0, true}, {"Ohm", 1, 0, true}, {"ohms", 1, 0, true}, {"R", 1, 0, false}}},
	Farad: {symbol: "F", name: "farad", of: "capacitance", example: "100n, 4n7 or 22 µF", least: -12, most: 0, coded: true,
		spellings: []spelling{{"F", 1, 0, true}, {"farad", 1, 0, true}}},
	Hertz: {symbol: "Hz", name: "hertz", of: "frequency", example: "138 Hz or 1.2 kHz", least: -3, most: 9,
		spellings: []spelling{{"Hz", 1, 0, true}}},
	Second: {symbol: "s", name: "second", of: "time", example: "7.2 ms or 30 s", least: -12, most: 0,
		spellings: []spelling{{"s", 1, 0, true}, {"sec", 1, 0, false}, {"min", 60, 0, false}, {"h", 3600, 0, false}}},
	Volt: {symbol: "V", name: "volt", of: "voltage", example: "5 V", least: -6, most: 3,
		spellings: []spelling{{"V", 1, 0, true}}},
	Ampere: {symbol: "A", name: "ampere", of: "current", example: "100 nA", least: -12, most: 0,
		spellings: []spelling{{"A", 1, 0, true}}},
	PerKelvin: {symbol: "/K", name: "per kelvin", of: "a temperature coefficient", example: "-200 ppm/K", shown: spelling{text: "ppm/K", power: -6}, signed: true,
		spellings: []spelling{{"ppm/K", 1, -6, false}, {"ppm/°C", 1, -6, false}, {"ppm/C", 1, -6, false}, {"%/K", 1, -2, false}, {"%/°C", 1, -2, false}, {"/K", 1, 0, false}}},
	Celsius: {symbol: "°C", name: "degree Celsius", of: "a temperature", example: "60 °C", shown: spelling{text: "°C"}, signed: true,
		spellings: []spelling{{"°C", 1, 0, false}, {"℃", 1, 0, false}, {"C", 1, 0, false}}},
}

// Symbol is the unit as printed: "Ω", "F", "" for a ratio.
func (u Unit) Symbol() string { return units[u].symbol }

// Name is the unit in words.
func (u Unit) Name() string { return units[u].name }

// Of is what the unit measures: "resistance", "capacitance".
func (u Unit) Of() string { return units[u].of }

// prefix is one SI prefix; the printed one stands first among those of its power.
type prefix struct {
	text  string
	power int
}

// prefixes in falling order of power. "µ" is U+00B5, "μ" U+03BC.
var prefixes = []prefix{
	{"T", 12}, {"G", 9}, {"M", 6}, {"k", 3}, {"K", 3}, {"", 0},
	{"m", -3}, {"µ", -6}, {"μ", -6}, {"u", -6}, {"n", -9}, {"p", -12},
}

// codeLetters are the IEC 60062 letters that take the place of the decimal point, by unit.
var codeLetters = map[Unit][]prefix{
	Ohm:   {{"L", -3}, {"m", -3}, {"R", 0}, {"k", 3}, {"K", 3}, {"M", 6}, {"G", 9}, {"T", 12}},
	Farad: {{"p", -12}, {"n", -9}, {"u", -6}, {"µ", -6}, {"μ", -6}, {"m", -3}, {"F", 0}},
}

// codeLetter finds the power of ten of a code letter.
func (u Unit) codeLetter(r rune) (power int, ok bool) {
	for _, l := range codeLetters[u] {
		if l.text == string(r) {
			return l.power, true
		}
	}
	return 0, false
}

// word reads a prefix, a unit, or both.
func (u Unit) word(w string) (factor float64, power int, ok bool) {
	for _, s := range units[u].spellings {
		if w == s.text {
			return s.factor, s.power, true
		}
	}
	for _, p := range prefixes {
		for _, s := range units[u].spellings {
			if s.prefix && u.isPrefix(p.text) && (w == p.text || w == p.text+s.text) {
				return s.factor, p.power + s.power, true
			}
		}
	}
	return 0, 0, false
}

// otherUnit names the unit that w, with any prefix or none, belongs to, if another one than u.
func (u Unit) otherUnit(w string) (Unit, bool) {
	for i := range units {
		for _, s := range units[i].spellings {
			for _, p := range prefixes {
				if Unit(i) != u && (w == s.text || s.prefix && w == p.text+s.text) {
					return Unit(i), true
				}
			}
		}
	}
	return 0, false
}

// isPrefix says whether w is an SI prefix that may stand for prefix and unit together.
func (u Unit) isPrefix(w string) bool {
	return slices.ContainsFunc(prefixes, func(p prefix) bool {
		return p.text == w && w != "" && (w != "K" || u == Ohm) && units[u].least <= p.power && p.power <= units[u].most
	})
}

// bareSpelling says whether w is the unit with no prefix.
func (u Unit) bareSpelling(w string) bool {
	return slices.ContainsFunc(units[u].spellings, func(s spelling) bool { return s.text == w })
}
