package setting_test

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness/setting"
)

// The contract carries a name in 24 bytes, and a value as thousandths in 32 bits.
func TestBuiltinSettingsFitTheContract(t *testing.T) {
	word := regexp.MustCompile(`^[a-z][a-z0-9_]{0,23}$`)
	seen := map[string]bool{}
	for _, s := range setting.Builtin() {
		assert.Regexp(t, word, s.Name)
		assert.False(t, seen[s.Name], "%s stands there once", s.Name)
		seen[s.Name] = true
		assert.LessOrEqual(t, s.Min, s.Default, s.Name)
		assert.LessOrEqual(t, s.Default, s.Max, s.Name)
		assert.Less(t, s.Min, s.Max, s.Name)
		assert.GreaterOrEqual(t, s.Min, -float64(setting.MaxValue), s.Name)
		assert.LessOrEqual(t, s.Max, float64(setting.MaxValue), s.Name)
		assert.NotEmpty(t, s.Meaning, s.Name)
	}
	assert.NotEmpty(t, seen)
}

func TestBuiltinIsACopy(t *testing.T) {
	setting.Builtin()[0].Name = "changed"
	assert.NotEqual(t, "changed", setting.Builtin()[0].Name)
}
