package object

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs"
	"padjig/results/runs/runstest"
)

// A key that never closed has a value that is infinite: it is printed like any other.
func TestWhatIsInfiniteIsPrinted(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, Print(&b, RunOf(runs.Stored{Run: runstest.Failed("24-000001")})))
	assert.True(t, json.Valid(b.Bytes()))
}
