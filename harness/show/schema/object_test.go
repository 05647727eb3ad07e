package schema

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// An object prints its members in their order and without what is absent, and its schema says so.
func TestObject(t *testing.T) {
	type item struct{ name string }
	of := func(i *item) Object { return Object{{"name", i.name, "of the item"}} }
	o := Object{
		{"b", "<1>", "a text"},
		{"a", OneOf("up", "up", "down"), "a word"},
		{"none", OmitZero(0), "nothing"},
		{"size", OmitZero(Number(0.000123456)), "in m"},
		{"items", List([]item{{"x"}}, of), "in order"},
		{"one", ObjectIf((*item)(nil), of), "may lack"},
		{"words", Texts(nil), "may be none"},
	}
	var b bytes.Buffer
	require.NoError(t, o.Write(&b))
	var flat bytes.Buffer
	require.NoError(t, json.Compact(&flat, b.Bytes()))
	assert.Equal(t, `{"b":"<1>","a":"up","size":0.000123456,"items":[{"name":"x"}],"words":[]}`, flat.String())
	text, err := Text("it", o)
	require.NoError(t, err)
	var s struct {
		Title      string
		Required   []string
		Properties map[string]map[string]any
	}
	require.NoError(t, json.Unmarshal(text, &s))
	assert.Equal(t, "it", s.Title)
	assert.Equal(t, []string{"a", "b", "items", "words"}, s.Required)
	assert.Equal(t, []any{"up", "down"}, s.Properties["a"]["enum"])
	assert.Equal(t, "in m", s.Properties["size"]["description"])
	assert.Nil(t, Number(math.Inf(1)))
	assert.Nil(t, Number(math.NaN()))
	assert.Equal(t, 1e300, *Number(1e300))
}
