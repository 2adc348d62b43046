package chart

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the drawings of testdata/golden anew: look at them with -gallery")

// golden are the samples whose drawings are kept, one of each kind.
var golden = map[string]string{
	"control": "a control", "distribution": "e distribution", "pareto": "g bars", "intervals": "h intervals", "spreads": "i spreads", "days": "l days",
}

// Drawings change when somebody meant them to.
func TestDrawingsAreAsKept(t *testing.T) {
	all := samples()
	for name, sample := range golden {
		file := filepath.Join("testdata", "golden", name+".svg")
		now := strings.ReplaceAll(string(all[sample]), "><", ">\n<") + "\n"
		if *update {
			require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
			require.NoError(t, os.WriteFile(file, []byte(now), 0o644))
		}
		kept, err := os.ReadFile(file)
		require.NoError(t, err)
		assert.True(t, string(kept) == now, "%s is drawn otherwise: look at -gallery FILE, then -update", name)
	}
}
