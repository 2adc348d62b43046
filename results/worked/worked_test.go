package worked

import (
	"fmt"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
)

// However many ask at once, a result is worked out once, under its name alone; and no more are kept than there is room for.
func TestEachIsWorkedOutOnce(t *testing.T) {
	var m Memory
	var times atomic.Int64
	work := func(n int) func() int {
		return func() int { times.Add(1); return n }
	}
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			for n := range 50 {
				assert.Equal(t, n, Out(&m, fmt.Sprint("square ", n), work(n)))
			}
		})
	}
	all.Wait()
	assert.EqualValues(t, 50, times.Load())
	for n := range 3 * most {
		Out(&m, fmt.Sprint(n), work(n))
		assert.LessOrEqual(t, len(m.kept), most)
	}
	assert.Equal(t, "text", Out(&m, "another kind", func() string { return "text" }))
}
