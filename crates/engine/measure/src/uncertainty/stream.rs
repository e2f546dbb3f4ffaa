//! Random numbers: one stream for every input and every chunk of draws.
//!
//! A stream is the generator xoshiro256++ (Blackman and Vigna 2021, by the crate `rand_xoshiro`), seeded by SplitMix64 with a mix of
//! seed, source and chunk. Which thread computes a chunk, and in which order, changes nothing. A stream is read a few thousand times out of
//! 2^256, so two streams overlap only if their 64-bit seeds are equal: for ten thousand streams a chance of 3e-12.
//!
//! Normals come from a ziggurat of 256 layers (Marsaglia and Tsang, J. Stat. Softw. 5(8) 2000; the layer and the place in it taken from
//! different bits of one number, Doornik 2005), with the functions of [`crate::elementary`], so that the bits are the same everywhere.

use crate::elementary::Elementary as _;
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng as _, SeedableRng as _};

/// Draws in one chunk: small enough for the columns of a formula to stay near the processor.
pub const CHUNK: usize = 2048;

/// Number of a source of randomness by its name (FNV-1a, 64 bits).
#[must_use]
pub fn source(name: &str) -> u64 {
    name.bytes().fold(0xCBF2_9CE4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3)
    })
}

/// SplitMix64's finaliser: every bit of the input moves half of the bits of the output.
fn mix(value: u64) -> u64 {
    let value = (value ^ (value >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let value = (value ^ (value >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    value ^ (value >> 31)
}

/// A stream of random numbers.
#[derive(Clone, Debug)]
pub struct Stream {
    generator: Xoshiro256PlusPlus,
}

impl Stream {
    /// The stream of a chunk of draws of one source.
    #[must_use]
    pub fn of(seed: u64, source: u64, chunk: u64) -> Self {
        const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;
        let state = mix(mix(mix(seed.wrapping_add(GOLDEN)).wrapping_add(source)).wrapping_add(chunk));
        Self { generator: Xoshiro256PlusPlus::seed_from_u64(state) }
    }

    /// 64 random bits.
    #[inline(always)]
    pub fn bits(&mut self) -> u64 {
        self.generator.next_u64()
    }

    /// Between 0 and 1, neither of them reached.
    #[inline(always)]
    pub fn unit(&mut self) -> f64 {
        to_float(self.bits() >> 11, 0.5) * (1.0 / 9_007_199_254_740_992.0)
    }

    /// The sum of two rectangular numbers between -1/2 and 1/2, from the halves of one number: triangular between -1 and 1.
    #[inline(always)]
    pub fn triangle(&mut self) -> f64 {
        let bits = self.bits();
        to_float((bits >> 32) + (bits & 0xFFFF_FFFF), 0.0) * (1.0 / 4_294_967_296.0)
            - (1.0 - 1.0 / 4_294_967_296.0)
    }
}

#[inline(always)]
#[expect(clippy::cast_precision_loss, reason = "at most 53 bits")]
fn to_float(bits: u64, plus: f64) -> f64 {
    bits as f64 + plus
}

const LAYERS: usize = 256;
/// Where the tail begins, for 256 layers (Marsaglia and Tsang 2000).
const TAIL: f64 = 3.654_152_885_361_009;

/// The standard normal distribution, ready to be drawn from.
#[derive(Clone, Debug)]
pub struct Normals {
    /// Right edges of the layers, the widest first; the first is as wide as the base with the tail is in area.
    edge: [f64; LAYERS + 1],
    /// Density, without its constant, at the edges.
    height: [f64; LAYERS + 1],
}

impl Default for Normals {
    fn default() -> Self {
        let density = |x: f64| (-0.5 * x * x).exp_e();
        let tail_area = (0.5 * core::f64::consts::PI).sqrt() * libm::erfc(TAIL / core::f64::consts::SQRT_2);
        let area = TAIL * density(TAIL) + tail_area;
        let mut edge = [0.0; LAYERS + 1];
        edge[0] = area / density(TAIL);
        edge[1] = TAIL;
        for layer in 2..LAYERS {
            let below = edge[layer - 1];
            edge[layer] = (-2.0 * (area / below + density(below)).log_e()).sqrt();
        }
        Self { height: edge.map(density), edge }
    }
}

impl Normals {
    /// One draw.
    #[inline(always)]
    pub fn draw(&self, stream: &mut Stream) -> f64 {
        let bits = stream.bits();
        let layer = usize::from((bits & 0xFF) as u8);
        let x = place(bits) * self.edge[layer];
        if x.abs() < self.edge[layer + 1] { x } else { self.beside(stream, layer, x) }
    }

    /// The draw where the first number fell outside the rectangle that lies under the curve for certain.
    #[cold]
    #[inline(never)]
    fn beside(&self, stream: &mut Stream, mut layer: usize, mut x: f64) -> f64 {
        loop {
            if x.abs() < self.edge[layer + 1] {
                return x;
            }
            if layer == 0 {
                return self.tail(stream).copysign(x);
            }
            let height =
                self.height[layer + 1] + (self.height[layer] - self.height[layer + 1]) * stream.unit();
            if height < (-0.5 * x * x).exp_e() {
                return x;
            }
            let bits = stream.bits();
            layer = usize::from((bits & 0xFF) as u8);
            x = place(bits) * self.edge[layer];
        }
    }

    /// Beyond the last layer, by Marsaglia's way of 1964.
    fn tail(&self, stream: &mut Stream) -> f64 {
        loop {
            let beyond = -stream.unit().log_e() / TAIL;
            if -2.0 * stream.unit().log_e() > beyond * beyond {
                return TAIL + beyond;
            }
        }
    }
}

/// The upper bits as a number between -1 and 1.
#[inline(always)]
fn place(bits: u64) -> f64 {
    to_float(bits >> 12, 0.5) * (1.0 / 2_251_799_813_685_248.0) - 1.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_generator_is_the_published_one() {
        // State 1, 2, 3, 4: the first numbers of the reference program of Blackman and Vigna.
        let mut seed = [0; 32];
        for word in 0..4 {
            seed[8 * word] = u8::try_from(word + 1).unwrap();
        }
        let mut generator = Xoshiro256PlusPlus::from_seed(seed);
        let first: Vec<u64> = (0..4).map(|_| generator.next_u64()).collect();
        assert_eq!(first, [41_943_041, 58_720_359, 3_588_806_011_781_223, 3_591_011_842_654_386]);
    }

    #[test]
    fn streams_differ_by_seed_source_and_chunk() {
        let first = |seed, name, chunk| Stream::of(seed, source(name), chunk).bits();
        let all = [first(1, "a", 0), first(2, "a", 0), first(1, "b", 0), first(1, "a", 1)];
        for (place, one) in all.iter().enumerate() {
            assert!(all[place + 1..].iter().all(|other| other != one));
        }
        assert_eq!(first(1, "a", 0), all[0]);
    }

    #[test]
    fn the_layers_have_one_area_and_close_at_the_top() {
        let normals = Normals::default();
        let area = |layer: usize| normals.edge[layer] * (normals.height[layer + 1] - normals.height[layer]);
        for layer in 1..LAYERS {
            assert!((area(layer) / area(1) - 1.0).abs() < 1e-9, "{layer}");
        }
    }

    /// Shares below given points against the distribution function.
    #[test]
    fn normals_lie_where_the_normal_distribution_has_them() {
        let normals = Normals::default();
        let points = [-4.0, -3.7, -3.0, -2.0, -1.0, -0.5, 0.0, 0.3, 1.0, 1.96, 2.576, 3.3, 3.66, 4.2];
        let mut below = [0_u32; 14];
        let (mut sum, mut fourth) = (0.0, 0.0);
        let count = 4_000_000_u32;
        let mut stream = Stream::of(7, source("normals"), 0);
        for _ in 0..count {
            let x = normals.draw(&mut stream);
            sum += x;
            fourth += x * x * x * x;
            for (counted, point) in below.iter_mut().zip(points) {
                *counted += u32::from(x < point);
            }
        }
        for (counted, point) in below.iter().zip(points) {
            let expected = 0.5 * libm::erfc(-point / core::f64::consts::SQRT_2);
            let spread = (expected * (1.0 - expected) / f64::from(count)).sqrt();
            let miss = f64::from(*counted) / f64::from(count) - expected;
            assert!(miss.abs() < 4.0 * spread, "{point}: {miss} of {spread}");
        }
        assert!((sum / f64::from(count)).abs() < 4.0 / 2000.0);
        assert!((fourth / f64::from(count) - 3.0).abs() < 4.0 * 96f64.sqrt() / 2000.0);
    }
}
