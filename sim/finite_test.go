package sim

import (
	"math"
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
)

// numbers gives each floating-point number in a struct, however deep, so that one which is added later counts too.
func numbers(v reflect.Value, path string, to func(path string, x reflect.Value)) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			numbers(v.Field(i), path+"."+v.Type().Field(i).Name, to)
		}
	case reflect.Float64, reflect.Float32:
		to(path, v)
	}
}

func TestFiniteLooksAtEveryNumber(t *testing.T) {
	for _, noun := range []interface{ Finite() bool }{&State{}, &Frame{}, &Injection{}} {
		n := 0
		numbers(reflect.ValueOf(noun).Elem(), reflect.TypeOf(noun).Elem().Name(), func(path string, x reflect.Value) {
			n++
			for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
				x.SetFloat(bad)
				assert.False(t, noun.Finite(), "%s is %v", path, bad)
			}
			most := math.MaxFloat64
			if x.Kind() == reflect.Float32 {
				most = math.MaxFloat32
			}
			x.SetFloat(most) // all of them at last: no sum of finite numbers is taken for an infinite one
			assert.True(t, noun.Finite(), "%s is %v", path, most)
		})
		assert.GreaterOrEqual(t, n, 6)
	}
}
