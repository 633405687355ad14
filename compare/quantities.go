package compare

import (
	"slices"
	"strings"

	"offbeat/acquire/quantity"
)

// Quantity is one quantity of a pulse train: its JSON name, its name in words, its unit.
type Quantity struct {
	Key, Name string
	Unit      quantity.Unit
}

// Quantities are those of Times, in its order.
var Quantities = [5]Quantity{
	{"high_time", "high time", quantity.Second},
	{"low_time", "low time", quantity.Second},
	{"period", "period", quantity.Second},
	{"frequency", "frequency", quantity.Hertz},
	{"duty_factor", "duty factor", quantity.Number},
}

// QuantityOf is the quantity with a JSON name; one that is none has the name alone.
func QuantityOf(key string) Quantity {
	if i := PlaceOf(key); i >= 0 {
		return Quantities[i]
	}
	return Quantity{key, strings.ReplaceAll(key, "_", " "), quantity.Number}
}

// PlaceOf is a quantity's place among Quantities; -1: it is none.
func PlaceOf(key string) int {
	return slices.IndexFunc(Quantities[:], func(q Quantity) bool { return q.Key == key })
}

// Times holds one entry for each quantity of a pulse train; nil where it has no meaning (a single pulse has no period).
type Times[T any] struct {
	High      *T `json:"high_time,omitempty"`
	Low       *T `json:"low_time,omitempty"`
	Period    *T `json:"period,omitempty"`
	Frequency *T `json:"frequency,omitempty"`
	Duty      *T `json:"duty_factor,omitempty"`
}

// TimesOf makes an entry for each quantity, by its place; a single pulse has the high time alone.
func TimesOf[T any](onePulse bool, of func(i int) *T) Times[T] {
	if onePulse {
		return Times[T]{High: of(0)}
	}
	return Times[T]{of(0), of(1), of(2), of(3), of(4)}
}

// Each lists the entries in the order of Quantities.
func (t *Times[T]) Each() [5]*T { return [5]*T{t.High, t.Low, t.Period, t.Frequency, t.Duty} }
