package school

import "math/rand/v2"

// source draws numbers for one purpose. All are whole.
type source struct{ *rand.Rand }

// What numbers are drawn for. Each has a stream of its own for every student and
// attempt, so that what is said never changes what is marked.
const (
	useSchool = iota
	useStudent
	useMarks
	useWords
	useTimes
	useDamage
)

func random(seed uint64, use, student, attempt int) source {
	place := uint64(use)<<56 | uint64(student)<<16 | uint64(attempt)
	return source{rand.New(rand.NewPCG(scatter(seed), scatter(seed^scatter(place+1))))}
}

// scatter is the finalizer of SplitMix64 (Steele, Lea and Flood 2014): seeds
// that are neighbors begin streams that are not.
func scatter(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// normal is nearly normal with mean 0 and the given standard deviation: the sum
// of twelve uniform numbers has a variance of 1.
func (r source) normal(sd int) int {
	sum := 0
	for range 12 {
		sum += r.IntN(10_001)
	}
	return (sum - 60_000) * sd / 10_000
}

// chance is true with a probability in percent.
func (r source) chance(percent int) bool { return r.IntN(100) < percent }

// logistic is the logistic function in millionths of x hundredths, by straight
// lines between its values at whole numbers: exact arithmetic is worth more here
// than the curve. The lines are off by less than 0.02.
func logistic(x int) int {
	at := [...]int{500_000, 731_059, 880_797, 952_574, 982_014, 993_307, 997_527}
	if x < 0 {
		return 1_000_000 - logistic(-x)
	}
	k := x / 100
	if k >= len(at)-1 {
		return at[len(at)-1]
	}
	return at[k] + (at[k+1]-at[k])*(x%100)/100
}

// pick is one of a list.
func pick[T any](r source, list []T) T { return list[r.IntN(len(list))] }

// early is an index below n, the first ones more often.
func early(r source, n int) int { return min(r.IntN(n), r.IntN(n), r.IntN(n)) }
