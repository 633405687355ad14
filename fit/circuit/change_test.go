package circuit

import (
	"math"
	"testing"
)

// A leak of 200 kohm across the capacitor stays 200 kohm when a resistor changes, and so does a switch's 1 kohm;
// a fault whose slot is set to 0 is gone.
func TestChangeKeepsTheFaultsOhms(t *testing.T) {
	c, err := Lookup("astable")
	if err != nil {
		t.Fatal(err)
	}
	v := Ideal(5)
	v[0], v[1], v[2] = 10e3, 40e3, 100e-9
	v[LeakRatio], v[WeakRatio] = 4, 0.025
	c.Change(&v, func(v *Values) { v[1] = 20e3 })
	if got := v[LeakRatio] * c.Charging(&v); !(math.Abs(got-200e3) <= 1e-6) {
		t.Errorf("the leak is %v ohm, want 200 kohm", got)
	}
	if got := v[WeakRatio] * v[1]; !(math.Abs(got-1e3) <= 1e-9) {
		t.Errorf("the switch is %v ohm, want 1 kohm", got)
	}
	c.Change(&v, func(v *Values) { v[0], v[LeakRatio] = 15e3, v[LeakRatio]/2 })
	if got := v[LeakRatio] * c.Charging(&v); !(math.Abs(got-100e3) <= 1e-6) {
		t.Errorf("a leak made half is %v ohm, want 100 kohm", got)
	}
	c.Change(&v, func(v *Values) { v[2], v[LeakRatio] = 47e-9, 0 })
	if v[LeakRatio] != 0 || v[2] != 47e-9 {
		t.Errorf("a new capacitor still leaks: %v", v)
	}
}
