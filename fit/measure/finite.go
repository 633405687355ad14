package measure

import (
	"errors"
	"fmt"
	"math"
	"reflect"

	"offbeat/acquire"
	"offbeat/fit"
)

// ErrNumber says that a result came out as no finite number, which is a fault of the program and not of the capture.
var ErrNumber = errors.New("no finite number")

// finite refuses a measurement with a number in it that is none: nothing that is printed may hold one.
func (r *run) finite(m *fit.Measurement) error {
	name, value, ok := notFinite("measurement", reflect.ValueOf(m))
	if !ok {
		return nil
	}
	e := r.fault(fmt.Sprintf("%s came out as %g", name, value), "a finite number", ErrNumber).(*acquire.Error)
	e.Do = "the program has failed; please report it with the capture"
	return e
}

// notFinite finds the first number in v that is not finite, by its place.
func notFinite(name string, v reflect.Value) (at string, value float64, found bool) {
	switch v.Kind() {
	case reflect.Float64:
		value = v.Float()
		return name, value, math.IsNaN(value) || math.IsInf(value, 0)
	case reflect.Pointer:
		if !v.IsNil() {
			return notFinite(name, v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if at, value, found = notFinite(name+"."+v.Type().Field(i).Name, v.Field(i)); found {
				return at, value, true
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if at, value, found = notFinite("", v.Index(i)); found {
				return fmt.Sprintf("%s[%d]%s", name, i, at), value, true
			}
		}
	}
	return "", 0, false
}
