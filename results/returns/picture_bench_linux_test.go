package returns

import (
	"bytes"
	"image"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"runtime"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkShrinkPicture makes the largest pictures that are taken as small as a report shows them: in processor time and memory
// allocated, beside what decoding alone takes of both.
func BenchmarkShrinkPicture(b *testing.B) {
	from := image.NewYCbCr(image.Rect(0, 0, 8192, 8192), image.YCbCrSubsampleRatio420)
	source := rand.New(rand.NewPCG(1, 1))
	for i := range from.Y {
		from.Y[i] = uint8(i>>9) + uint8(source.IntN(20))
	}
	gray := image.NewNRGBA(image.Rect(0, 0, 8000, 8000))
	for i := range gray.Pix {
		gray.Pix[i] = uint8(i >> 8)
	}
	var asJPEG, asPNG bytes.Buffer
	require.NoError(b, jpeg.Encode(&asJPEG, from, nil))
	require.NoError(b, (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&asPNG, gray))
	for name, content := range map[string][]byte{"jpeg": asJPEG.Bytes(), "png": asPNG.Bytes()} {
		for what, do := range map[string]func(){
			"shrunk": func() {
				_, err := ShrinkPicture(content, 720)
				require.NoError(b, err)
			},
			"decoded": func() {
				_, _, err := image.Decode(bytes.NewReader(content))
				require.NoError(b, err)
			},
		} {
			b.Run(name+"/"+what, func(b *testing.B) {
				var before, after runtime.MemStats
				var begun, ended syscall.Rusage
				runtime.ReadMemStats(&before)
				require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &begun))
				n := 0
				for b.Loop() {
					do()
					n++
				}
				require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &ended))
				runtime.ReadMemStats(&after)
				took := time.Duration(ended.Utime.Nano() + ended.Stime.Nano() - begun.Utime.Nano() - begun.Stime.Nano())
				b.ReportMetric(0, "ns/op")
				b.ReportMetric(float64(took.Milliseconds())/float64(n), "cpu-ms")
				b.ReportMetric(float64(after.TotalAlloc-before.TotalAlloc)/float64(n)/(1<<20), "MiB")
			})
		}
	}
}
