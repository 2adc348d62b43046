package runner_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

func TestReferencesForFindingsThatDoNotExist(t *testing.T) {
	p := load(t, "gcc-20")
	p.References = &product.References{Bad: []product.BadUnit{
		{Serial: "REF-K", What: "key open", Key: "7"}, {Serial: "REF-L", What: "lines shorted", Lines: []string{"R2", "R1"}},
	}}
	jig := fixture.CapabilitiesOf(jigsim.Defaults())
	_, err := runner.NewPlan(p, jig, sequence.Mechanical)
	require.NoError(t, err)
	p.References.Bad[0].What = "key opne"
	_, err = runner.NewPlan(p, jig, sequence.Mechanical)
	wrong, listed := errors.AsType[runner.Problems](err)
	require.True(t, listed)
	require.Len(t, wrong, 1)
	assert.Contains(t, wrong[0], `REF-K must be failed for "key opne", which is never reported; write one of tail reversed`)
}
