//! What the smoke of a material may hold, and how much of it at most.

use metrology::Mass;

use super::data::Material;
use super::{AroundError, Guide, within};

/// A gas that the smoke may hold.
#[derive(Clone, Debug, PartialEq)]
pub struct SmokeGas {
    /// Which.
    pub gas: String,
    /// What kind of material gives it.
    pub given_by: String,
    /// The most of it in the closed chamber's air, in parts of a million by volume.
    pub most_ppm: f64,
    /// From here on a person is in immediate danger, in parts of a million (IDLH).
    pub dangerous_ppm: f64,
}

/// What burns, and in what.
#[derive(Clone, Copy, Debug)]
pub struct Smoke<'a> {
    /// The material, as the plan names it.
    pub material: &'a str,
    /// How much of it burns.
    pub burnt: Mass,
    /// The volume of the closed chamber, in cubic metres.
    pub cubic_metres: f64,
}

impl Guide {
    /// What the smoke may hold. A material that the guide does not know may give all of them.
    ///
    /// # Errors
    ///
    /// [`AroundError::Outside`] for a mass or a volume that is none.
    pub fn smoke(&self, smoke: Smoke<'_>) -> Result<Vec<SmokeGas>, AroundError> {
        let Smoke { material, burnt, cubic_metres } = smoke;
        let grams = within(("what burns", "g"), burnt.grams(), (0.0, 100_000.0))?;
        let volume = within(("the chamber's volume", "m³"), cubic_metres, (0.01, 1000.0))?;
        let litres_per_mole = self.litres_per_mole(self.smoke_air().kelvin());
        let known = self.material.iter().any(|it| !it.words.is_empty() && it.names(material));
        let gives = self.material.iter().filter(|it| !known || it.names(material));
        let gas = |it: &Material| {
            let gas = self.in_smoke(it.gives);
            let moles = grams * it.most.value / gas.molar_mass.value;
            SmokeGas {
                gas: gas.says.clone(),
                given_by: it.says.clone(),
                most_ppm: moles * litres_per_mole / (volume * 1e3) * 1e6,
                dangerous_ppm: gas.dangerous.value,
            }
        };
        Ok(gives.map(gas).collect())
    }

    /// Whether the guide knows a material by its words; of another it expects the worst.
    #[must_use]
    pub fn knows(&self, material: &str) -> bool {
        self.material.iter().any(|it| !it.words.is_empty() && it.names(material))
    }
}

impl Material {
    /// Whether a material's name has one of the words, not as a part of a longer one.
    fn names(&self, material: &str) -> bool {
        let name = material.to_lowercase();
        let own = |word: &String| {
            name.match_indices(word.as_str()).any(|(at, word)| {
                let part = |letter: Option<char>| letter.is_some_and(char::is_alphanumeric);
                let (before, after) = (&name[..at], &name[at + word.len()..]);
                // A digit behind stands for the kind, as in `PA66`.
                let behind = after.chars().next().filter(|letter| !letter.is_ascii_digit());
                !part(before.chars().next_back()) && !part(behind)
            })
        };
        self.words.is_empty() || self.words.iter().any(own)
    }
}
