package main

import (
	"bufio"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/results/answers/ratio"
)

// BenchmarkStart compares how long padjig takes to start with a Go program that does nothing, built by the same tools, in
// turn: to the end of padjig version, and to the first answer of a station that is given its records and a jig that is not there.
func BenchmarkStart(b *testing.B) {
	dir := b.TempDir()
	source, nothing, program := filepath.Join(dir, "nothing.go"), filepath.Join(dir, "nothing"), filepath.Join(dir, "padjig")
	require.NoError(b, os.WriteFile(source, []byte("package main\n\nfunc main() {}\n"), 0o600))
	for out, of := range map[string]string{nothing: source, program: "."} {
		said, err := exec.Command("go", "build", "-o", out, of).CombinedOutput()
		require.NoError(b, err, "%s", said)
	}
	ended := func(name string, args ...string) func() {
		return func() { require.NoError(b, exec.Command(name, args...).Run()) }
	}
	b.Run("version", func(b *testing.B) {
		var pairs ratio.Pairs
		for b.Loop() {
			pairs.Time(ended(program, "version"), ended(nothing))
		}
		pairs.Report(b, "version", "nothing")
	})
	b.Run("station", func(b *testing.B) {
		free, err := net.Listen("tcp", "127.0.0.1:0")
		require.NoError(b, err)
		require.NoError(b, free.Close())
		args := []string{"station", "--store", filepath.Join(dir, "r.sqlite"), "--listen", free.Addr().String(),
			"--jig", filepath.Join(dir, "jig"), "--product", "../../testdata/products/gcc-20.yaml"}
		answered(b, program, args) // makes the records
		var pairs ratio.Pairs
		for b.Loop() {
			pairs.Take(func() time.Duration { return answered(b, program, args) }, func() time.Duration {
				began := time.Now()
				ended(nothing)()
				return time.Since(began)
			})
		}
		pairs.Report(b, "station", "nothing")
	})
}

// answered starts a station and gives how long it took until its pages answered.
func answered(b *testing.B, program string, args []string) time.Duration {
	cmd := exec.Command(program, args...) // what it logs is of no interest
	out, err := cmd.StdoutPipe()
	require.NoError(b, err)
	began := time.Now()
	require.NoError(b, cmd.Start())
	defer func() {
		require.NoError(b, cmd.Process.Signal(os.Interrupt))
		require.NoError(b, cmd.Wait())
	}()
	for said := bufio.NewScanner(out); said.Scan(); {
		if _, at, is := strings.Cut(said.Text(), "station at "); is {
			answer, err := http.Get(at)
			took := time.Since(began)
			require.NoError(b, err)
			require.NoError(b, answer.Body.Close())
			require.Equal(b, http.StatusOK, answer.StatusCode)
			return took
		}
	}
	b.Fatal("the station never began")
	return 0
}
