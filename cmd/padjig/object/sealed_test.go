package object

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The example of RFC 8785, 3.2.2 to 3.2.4, and what Go would write otherwise.
func TestCanonicalForm(t *testing.T) {
	for text, want := range map[string]string{
		`{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
		  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]}`: `{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
		`["\u2028\u2029", "\\u2028", "\\\u2028", "<&>", "\b\f\u007f", 1e21, 1e-7, 123456789012, -0.0]`: "[\"\u2028\u2029\"," + `"\\u2028","\\` + "\u2028" + `","<&>","\b\f` + "\u007f" + `",1e+21,1e-7,123456789012,0]`,
	} {
		var o any
		require.NoError(t, json.Unmarshal([]byte(text), &o))
		got, err := canonical(o)
		require.NoError(t, err)
		assert.Equal(t, want, string(got))
	}
}

// The sum is over the canonical form without it, so that whoever has the object can tell.
func TestSealed(t *testing.T) {
	text, err := Sealed(Event{ID: "1", Unit: "24-000001", At: "2026-03-02T08:00:00Z"})
	require.NoError(t, err)
	var o map[string]any
	require.NoError(t, json.Unmarshal(text, &o))
	sum := o["sha256"].(string)
	rest := strings.Replace(string(text), `"sha256":"`+sum+`",`, "", 1)
	require.Less(t, len(rest), len(text))
	want := sha256.Sum256([]byte(rest))
	assert.Equal(t, hex.EncodeToString(want[:]), sum)
	assert.Equal(t, "event-1", o["schema"])
}
