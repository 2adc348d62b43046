package machine

import (
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestMachineSaysWhatItIs(t *testing.T) {
	m := Here()
	assert.Positive(t, m.Cores)
	assert.NotEmpty(t, m.Processor)
	assert.Equal(t, runtime.Version(), m.Go)
	if runtime.GOOS == "linux" {
		assert.Positive(t, m.Memory)
		assert.Regexp(t, `^Linux \d`, m.Kernel)
		assert.Regexp(t, `^\d+\.\d\d$`, m.Load)
	}
	m = Machine{Processor: "A processor", Cores: 2, Memory: 4 << 30, Kernel: "Linux 6.1.0", Go: "go1.26.8"}
	assert.Equal(t, "A processor, 2 cores, 4 GiB, Linux 6.1.0, go1.26.8", m.String())
}

func TestFirstLineOfAName(t *testing.T) {
	said := "processor\t: 0\nmodel name\t: One: of two\nmodel name\t: Another\n"
	assert.Equal(t, "One: of two", first(strings.NewReader(said), "model name"))
	assert.Empty(t, first(strings.NewReader(said), "flags"))
}
