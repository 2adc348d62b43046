package station

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station/apart"
	"padjig/sequence/wording"
)

// Every refusal that says all by its code, and every remedy, has words.
func TestRefusalsHaveWords(t *testing.T) {
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	named := regexp.MustCompile(`\b(?:try)\("([^"]+)"`)
	found := 0
	for _, file := range files {
		source, err := os.ReadFile(file)
		require.NoError(t, err)
		for _, m := range named.FindAllSubmatch(source, -1) {
			found++
			assert.True(t, wording.Facts().Has("try."+string(m[1])), "%s names %q", file, m[1])
		}
	}
	assert.Greater(t, found, 20)
	for _, code := range []Code{
		OtherProduct, PassedAlready, AttemptsSpent, AttemptsUsed, NotReleased, Returned, NotForProduction, RepairLoop, LaneBusy, NotInForce, TestedAlready, OtherUnit, OtherSort, Stopped,
		NotOpened, NotEmptied, NotShown, NotReseated, NestEmpty, NestUnseen, FailNotPlaced, PassedElsewhere, AttemptsElsewhere, InHandElsewhere, Alone,
		apart.OtherProductElsewhere, apart.ReturnedElsewhere, apart.NotForProductionElsewhere,
	} {
		assert.True(t, wording.Facts().Has("refused."+string(code)), code)
	}
}
