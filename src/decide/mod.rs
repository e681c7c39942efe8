//! Decisions: what the answers of the solver mean for the owner's money.

mod compare;
mod growth;
mod money;
mod room;
mod takeoff;

pub use compare::{
    Answer, Case, CaseAnswers, CompareError, Comparison, FanDrive, Objective, compare,
};
pub use growth::{
    FutureHood, Growth, GrowthError, Headroom, HeadroomStep, Need, NewHood, growth, headroom,
};
pub use money::Money;
pub use room::{Exhaust, FlueCaution, Room, RoomEffect, RoomError};
pub use takeoff::{
    ElbowShape, HoseMake, Item, Joints, JunctionInlet, Per, Price, PriceError, PriceFault,
    PriceTable, Priced, PricedLine, Quantity, ReducerShape, Stock, StockUse, Takeoff, TakeoffError,
    TakeoffLine, TakeoffOptions, takeoff,
};
